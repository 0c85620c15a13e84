"""A job folder in which every text field says something that must not be taken for anything but words."""

from __future__ import annotations

import json

from folders import picture

PAYLOADS = (
    "<script>window.ran='script'</script>",
    "<img src=x onerror=\"window.ran='img'\">",
    "<svg onload=\"window.ran='svg'\"><script>window.ran='inner'</script></svg>",
    "\"><iframe src='javascript:window.ran=1'></iframe>",
    "'-alert(1)-'",
    "{{ 7 * 7 }} {% raw %} ${7*7} <%= 7 %> {# x #}",
    "[a](javascript:window.ran='link') ![b](https://outside.invalid/b.png) <https://outside.invalid>",
    "[c](&#106;avascript:alert(1)) [d](//outside.invalid/x) [e](data:text/html,<script>1</script>)",
    "# head\\n- *list* **bold** `code` | table |",
    "\u202ereversed\u202c \u2066isolated \u200bwidth \ufeff",
    "]]> --> </textarea></title></style></script> &lt;b&gt; &amp; %3Cscript%3E",
    "https://outside.invalid/?q=<b>",
)
ALL = " ".join(PAYLOADS)
FORMULAS = ("=1+2", "+1+2", "-1+2", "@SUM(A1)", "\t=1", '=HYPERLINK("https://outside.invalid")', "|cmd", "x;=1+2", "＝1+2")
LONG = "w" * 49_000  # a paragraph holds no more than fifty thousand


def text(nth: int) -> str:
    """Return a formula with everything else behind it, as YAML and JSON take it; each field another formula."""
    return f"{FORMULAS[nth % len(FORMULAS)].strip()} {ALL}"


def cell(nth: int) -> str:
    """Return the same as a cell of a table."""
    return '"' + text(nth).replace('"', '""') + '"'


def folder() -> dict[str, str | bytes]:
    """Return the files of the folder."""
    said = [json.dumps(text(n), ensure_ascii=False).replace("\ufeff", "\\ufeff") for n in range(40)]
    cells = [cell(n) for n in range(40)]
    note = (
        "# A heading <b onclick='window.ran=1'>x</b>\n\n"
        + "\n\n".join(PAYLOADS)
        + "\n\n<div onclick='window.ran=2' markdown='1'>*in*</div>\n\n<script>window.ran=3</script>\n\n<style>*{background:url(https://outside.invalid)}</style>\n\n"
        + 'A word{: onclick="window.ran=4" style="background:url(https://outside.invalid)" } and [a link](https://outside.invalid){: onmouseover=window.ran=5 target=_blank }\n\n'
        + "[r]: javascript:window.ran=6\n\n[by name][r]\n\n    <script>in code</script>\n\n`<img onerror=x>`\n\n"
        + f"<!-- a comment -->\n\n| a | b |\n|:-|-:|\n| <script>window.ran=7</script> | {FORMULAS[0]} |\n"
    )
    return {
        "job.yml": f"title: {said[0]}\npublish: yes\nsummary: {said[1]}\ncover: a.jpg\n"
        f"instrument: {{maker: {said[2]}, model: {said[3]}, kind: {said[4]}, serial: {said[5]}}}\n"
        f"owner: {{name: {said[6]}, email: {said[7]}, phone: {said[8]}, address: {said[9]}}}\n"
        f"modules:\n  - id: m\n    title: {said[10]}\n    inputs: [{said[11]}]\n    outputs: [{said[12]}]\n"
        f"    controls: [{{name: {said[13]}, positions: [{said[14]}, b]}}]\n"
        f"meters: [{{id: dmm, title: {said[15]}}}]\n",
        "notes/10-a.md": f"---\ntitle: {said[16]}\nmodule: m\nboard: b\n---\n{note}",
        "notes/20-long.md": f"---\ntitle: Long\n---\n{LONG}\n",
        "boards/b.yml": f"title: {said[17]}\n",
        "boards/b.csv": f"ref,x_mm,y_mm,kind,value,function\nR1,1,1,{cells[0]},{cells[1]},{cells[2]}\nR2,20,20,,,\n",
        "photos/a.jpg": picture(),
        "photos.csv": f"file,caption,board,refs\na.jpg,{cells[3]},b,R1\n",
        "marks.csv": f"photo,shape,x,y,text,ref\na.jpg,point,10,10,{cells[4]},R1\n",
        "parts.csv": "board,ref,action,was,now,reason,was_rating,now_rating,measured,supplier,order_code,note\n"
        f"b,R1,replaced,{','.join(cells[5:14])}\n",
        "faults.csv": f"symptom,cause,board,ref,remedy\n{cells[14]},{cells[15]},b,R1,{cells[16]}\n{cells[17]},,,,\n",
        "date-codes.csv": f"board,ref,code,note\nb,R1,{cells[18]},{cells[19]}\n",
        "documents.csv": f"file,title,kind,edition\na.pdf,{cells[20]},{cells[21]},portfolio\n",
        "documents/a.pdf": b"x",
        "trims.csv": f"board,ref,function,unit,as_found,as_left\nb,R2,{cells[22]},V,1,2\n",
        "checks.yml": f"- {{id: c, title: {said[18]}, kind: readings, module: m, file: c.csv, note: {said[19]}, meter: dmm}}\n",
        "measurements/c.csv": "item,unit,nominal,limit,as_found,as_left\n"
        + "".join(f"{cell(n)},V,5,0.1,5.2,5.0\n" for n in range(len(FORMULAS))),
        "patches.yml": f"- id: p\n  title: {said[20]}\n  connections: [{{from: {said[21]}, to: {said[22]}}}]\n  settings: {{{said[23]}: {said[24]}}}\n",
    }
