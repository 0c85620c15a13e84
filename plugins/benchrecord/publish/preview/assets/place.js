// The place mode: click where a part, a point of the fit or a mark is; the server writes it into the job folder at once.
(() => {
  "use strict";
  const $ = (id) => document.getElementById(id);
  const token = document.querySelector("meta[name=bench-token]").content;
  const pane = $("pane"), picture = $("picture");
  const query = new URLSearchParams(location.search);
  const FIRST = { point: "what the mark is about", box: "one corner of the box", arrow: "what the arrow points at" };
  const SECOND = { box: "the opposite corner", arrow: "where the arrow comes from" };
  const ENOUGH = 8; // points; more are placed only where one is chosen
  let state = null; // what the server told last
  let mode = query.get("mode") || "";
  let held = null; // what the next click places
  let begun = null; // the first click of a box or an arrow
  let aim = null; // where the keyboard points, in pixels of the picture
  let zoom = 1, busy = false, turn = 0; // turn: which of the parts without a place comes next
  let words = { shape: "point", text: "", ref: "" }; // of the next mark

  // --- drawing and lists -------------------------------------------------------------------------------------------
  const make = (tag, given = {}, ...inside) => {
    const node = document.createElement(tag);
    for (const [name, value] of Object.entries(given)) {
      if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
      else if (value !== false) node.setAttribute(name, value === true ? "" : value);
    }
    node.append(...inside);
    return node;
  };
  const draw = (tag, given = {}, ...inside) => {
    const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(given)) node.setAttribute(name, value);
    node.append(...inside);
    return node;
  };
  const short = (n) => String(Math.round(n * 100) / 100);
  const place = (at) => `${short(at[0])}, ${short(at[1])} ${state.unit}`;
  const px = (percent) => [(percent[0] / 100) * state.width, (percent[1] / 100) * state.height];
  const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);

  const say = (text) => ($("said").textContent = text);
  const complain = (text) => {
    $("wrong").hidden = !text;
    $("wrong").textContent = text;
    if (text) $("wrong").scrollIntoView({ block: "nearest" });
  };

  const options = (select, list, chosen) =>
    select.replaceChildren(...list.map(([value, text]) => make("option", { value, selected: value === chosen }, text)));

  const show = () => {
    if (state.empty) {
      $("held").textContent = "";
      return complain(state.empty);
    }
    options($("board"), [["", "none: marks only"], ...state.boards.map((b) => [b.id, b.left ? `${b.title} (${b.left} to place)` : b.title])], state.board);
    options($("photo"), state.photos.map((p) => [p.file, p.words]), state.photo);
    $("undo").disabled = !state.undo;
    $("undo").title = state.undo ? `Take back: ${state.undo}` : "";
    $("back").href = state.back;
    $("fit").textContent = state.fit;
    complain(state.problems.join("\n"));
    for (const radio of document.querySelectorAll("[name=mode]")) {
      radio.checked = radio.value === mode;
      radio.disabled = radio.value !== "marks" && !state.board;
    }
    history.replaceState(null, "", `?${new URLSearchParams({ board: state.board, photo: state.photo, mode })}`);
    frame();
    overlay();
    list();
    hold(held);
  };

  const frame = () => {
    const source = `/place/picture?photo=${encodeURIComponent(state.photo)}`;
    const image = $("image");
    if (image.getAttribute("href") !== source) {
      image.setAttribute("href", source);
      [zoom, aim] = [1, null];
    }
    image.setAttribute("width", state.width);
    image.setAttribute("height", state.height);
    image.setAttribute("preserveAspectRatio", "none");
    picture.setAttribute("viewBox", `0 0 ${state.width} ${state.height}`);
    fitIn();
  };

  const fitIn = () => {
    if (!state || state.empty) return;
    const most = Math.max(innerHeight - 340, innerHeight * 0.4), shape = state.height / state.width;
    pane.style.height = `${Math.min(most, pane.clientWidth * shape) + 2}px`;
    const width = Math.min(pane.clientWidth, most / shape) * zoom;
    picture.style.width = `${width}px`;
    picture.style.height = `${width * shape}px`;
    picture.style.setProperty("--unit", state.width / width);
    picture.classList.toggle("crowded", state.parts.length > 40 && zoom < 2);
  };

  const overlay = () => {
    $("pins").replaceChildren(
      ...state.parts.filter((p) => p.px).map((p) =>
        draw("g", { class: held && held.ref === p.ref ? "pin held" : "pin", transform: `translate(${p.px})` }, draw("circle", { class: "ring" }), draw("text", { class: "name" }, p.ref))
      )
    );
    $("points").replaceChildren(
      ...state.points.map((p, n) =>
        draw("g", { class: held && same(held.place, p.place) ? "point held" : "point", transform: `translate(${p.px})` }, draw("path", { class: "cross", d: "M-1 0H1M0-1V1" }), draw("text", { class: "name" }, String(n + 1)))
      )
    );
    $("marks").replaceChildren(...state.marks.map((m, n) => mark(m, n)));
    aimed();
  };

  const mark = (m, n) => {
    const [x, y] = px(m.at), size = m.size[0] === null ? null : px(m.size);
    const shapes = {
      box: () => draw("rect", { x, y, width: size[0], height: size[1] }),
      arrow: () => draw("path", { d: `M${x + size[0]} ${y + size[1]}L${x} ${y}` }),
      point: () => draw("circle", { class: "ring", transform: `translate(${x} ${y})` }),
    };
    return draw("g", { class: held && held.line === m.line ? "mark held" : "mark" }, (size || m.shape === "point" ? shapes[m.shape] : shapes.point)(), draw("g", { transform: `translate(${x} ${y})` }, draw("text", { class: "name" }, String(n + 1))));
  };

  const aimed = () => {
    const ends = [];
    if (begun) ends.push(draw("g", { class: "begun", transform: `translate(${begun})` }, draw("circle", { class: "ring" })));
    if (aim) ends.push(draw("g", { class: "cross-hair", transform: `translate(${aim})` }, draw("path", { class: "cross", d: "M-2 0H-.4M.4 0H2M0-2V-.4M0 .4V2" })));
    $("aim").replaceChildren(...ends);
    $("here").disabled = !held || !aim;
  };

  // --- what there is to place --------------------------------------------------------------------------------------
  const button = (text, press, more = {}) => make("button", { type: "button", onclick: press, ...more }, ...[text].flat());
  const choice = (text, why, thing) => make("li", {}, button([text, " ", make("small", {}, why)], () => hold(thing, true), { "aria-pressed": String(same(held, thing)), class: "choice" }));

  const list = () => {
    const open = [...$("list").querySelectorAll("details[open]")].map((d) => d.id);
    $("list").replaceChildren(...{ parts, points, marks }[mode]());
    for (const id of open) if ($(id)) $(id).open = true;
  };

  const parts = () => [
    make("h2", {}, `No place yet: ${state.unplaced.length}`),
    make("ul", {}, ...state.unplaced.map((p) => choice(p.ref, p.why, part(p.ref)))),
    make("form", { onsubmit: (e) => other(e, (form) => part(form.ref.value.trim())) }, make("label", {}, "Another part ", make("input", { name: "ref", size: 8, required: true, autocomplete: "off", pattern: "[A-Za-z]{1,4}[0-9]{1,4}[A-Za-z]?", title: "A designator such as R12" })), make("button", {}, "Choose")),
    make("details", { id: "placed" }, make("summary", {}, `To move: ${state.parts.length} placed`), make("ul", {}, ...state.parts.map((p) => choice(p.ref, `${place(p.at)} ${p.words}`, part(p.ref))))),
  ];

  const points = () => {
    if (state.given) return [make("p", {}, state.fit)];
    const board = state.boards.find((b) => b.id === state.board);
    const worst = Math.max(0.01, ...state.points.map((p) => p.off || 0));
    const percent = button("Nobody measured this board: count in percent of this photograph", () => send("change", { do: "count in percent" }));
    return [
      ...(board && board.bare ? [make("p", {}, percent)] : []),
      make("h2", {}, "Places that can be found in the picture"),
      make("ul", {}, ...state.offered.map((p) => choice(p.name, place(p.at), point(p.at, p.name)))),
      make("form", { onsubmit: (e) => other(e, (form) => point([form.x.valueAsNumber, form.y.valueAsNumber], "place chosen")) }, make("label", {}, "Another: x ", make("input", { name: "x", type: "number", step: "any", required: true })), make("label", {}, " y ", make("input", { name: "y", type: "number", step: "any", required: true })), ` ${state.unit} `, make("button", {}, "Choose")),
      make("h2", {}, `Given: ${state.points.length}`),
      make("ol", {}, ...state.points.map((p) => make("li", { class: p.off === worst ? "worst" : "" }, make("span", { class: "what" }, `${p.name} ${place(p.at)}${p.off === null ? "" : `, off by ${p.off.toFixed(2)} ${state.unit}`}`), ...both(`the point ${p.name || place(p.at)}`, { does: "move point", place: p.place, words: `the point ${p.name || place(p.at)}` }, { do: "remove point", place: p.place })))),
    ];
  };

  const marks = () => [
    make("fieldset", {}, make("legend", {}, "The next mark"), ...["point", "box", "arrow"].map((shape) => make("label", {}, make("input", { type: "radio", name: "shape", value: shape, checked: words.shape === shape, onchange: () => { words.shape = shape; hold(next(), true); } }), ` ${shape} `)), line("What it says", words.text, (value) => (words.text = value)), line("Part, if it is one", words.ref, (value) => (words.ref = value))),
    make("h2", {}, `In this photograph: ${state.marks.length}`),
    make("ol", {}, ...state.marks.map((m) => {
      const own = { shape: m.shape, text: m.text, ref: m.ref, line: m.line }, name = `the ${m.shape} ${m.text || m.ref}`.trim();
      return make("li", {}, line(`What the ${m.shape} says`, m.text, null, (value) => send("change", { ...own, do: "reword mark", text: value })), line("Part", m.ref, null, (value) => send("change", { ...own, do: "reword mark", ref: value })), ...both(name, { ...own, does: "move mark" }, { ...own, do: "remove mark" }));
    })),
    make("datalist", { id: "refs" }, ...[...state.parts, ...state.unplaced].map((p) => make("option", { value: p.ref }))),
  ];

  const line = (label, value, typed, done) => make("label", { class: "line" }, `${label} `, make("input", { value, autocomplete: "off", maxlength: 500, ...(label.startsWith("Part") ? { list: "refs", size: 8 } : {}), oninput: (e) => typed && typed(e.target.value), onchange: (e) => done && done(e.target.value) }));
  const both = (name, move, remove) => [button("Move", () => hold(move, true), { "aria-label": `Move ${name}`, "aria-pressed": String(same(held, move)) }), button("Take out", () => send("change", remove), { "aria-label": `Take out ${name}` })];
  const part = (ref) => ({ does: "place part", ref, words: ref });
  const point = (at, name) => ({ does: "add point", at, words: `${/ /.test(name) ? "the " : ""}${name} (${place(at)})` });
  const other = (event, thing) => {
    event.preventDefault();
    hold(thing(event.target.elements), true);
  };

  const next = () => {
    if (mode === "parts") return state.fitted && state.unplaced.length ? part(state.unplaced[Math.min(turn, state.unplaced.length - 1)].ref) : null;
    if (mode === "points") return !state.given && state.points.length < ENOUGH && state.offered.length ? point(state.offered[0].at, state.offered[0].name) : null;
    return { does: "add mark", shape: words.shape };
  };

  const hold = (thing, again = false) => {
    if (!same(thing, held)) begun = null;
    held = thing;
    turn = held && held.ref && mode === "parts" ? Math.max(state.unplaced.findIndex((p) => p.ref === held.ref), 0) : turn;
    const nothing = { parts: state.fitted ? "Every part that rows name has its place. Choose another to place or to move." : "Give points first: choose “a point of the fit”.", points: "Choose a place, then click where it is seen.", marks: "" };
    const wanted = held && (begun && SECOND[held.shape] ? SECOND[held.shape] : FIRST[held.shape] || `where ${held.words} is`);
    $("held").textContent = held ? `Click ${wanted}.` : nothing[mode];
    if (again) {
      list();
      overlay();
      pane.focus({ preventScroll: true });
      $("held").scrollIntoView({ block: "nearest" }); // on a telephone the lists lie below the picture
    }
    aimed();
  };

  // --- placing -----------------------------------------------------------------------------------------------------
  const put = (at) => {
    if (!held) return say("Choose what to place first.");
    if (busy) return say("One moment: the last click is still being written.");
    if (SECOND[held.shape] && !begun) {
      begun = at;
      return hold(held);
    }
    const [first, second] = begun ? [begun, at] : [at, undefined];
    begun = null;
    const { does, words: _, ...own } = held;
    const extra = does === "add mark" ? words : {};
    send("change", { ...own, ...extra, do: does, px: first, ...(second ? { to: second } : {}) }, does === "add mark");
  };

  const writing = (now) => {
    busy = now;
    pane.setAttribute("aria-busy", String(now));
  };

  const send = async (name, body, isMark = false) => {
    writing(true);
    try {
      const asked = { ...body, board: state.board, photo: state.photo, versions: state.versions };
      const answer = await fetch(`/place/${name}`, { method: "POST", headers: { "Content-Type": "application/json", "X-Bench-Token": token }, body: JSON.stringify(asked) });
      const told = await answer.json();
      if (isMark && answer.ok) words = { ...words, text: "", ref: "" };
      take(told);
    } catch {
      complain("The preview does not answer: is it still running?");
    }
    writing(false);
  };

  const take = (told) => {
    if (told.photos || told.empty) {
      state = told;
      if (!state.board || !["parts", "points", "marks"].includes(mode)) mode = !state.board ? "marks" : state.fitted ? "parts" : "points";
      if (!state.empty) held = next();
      show();
    }
    if (told.said) say(told.said);
    if (told.error) {
      say("");
      complain(told.error);
    }
  };

  const load = async (board, photo) => {
    const asked = new URLSearchParams(photo ? { photo } : {});
    if (board !== null) asked.set("board", board);
    try {
      const answer = await fetch(`/place/state?${asked}`, { headers: { "X-Bench-Token": token } });
      take(await answer.json());
    } catch {
      $("held").textContent = "";
      complain("The preview does not answer: is it still running?");
    }
  };

  // --- hands -------------------------------------------------------------------------------------------------------
  const where = (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(picture.getScreenCTM().inverse());
    return [Math.min(Math.max(at.x, 0), state.width), Math.min(Math.max(at.y, 0), state.height)];
  };
  picture.addEventListener("click", (event) => {
    aim = where(event);
    if ($("first").checked) {
      aimed();
      say(`Aimed. Place it with “Place here” or Enter.`);
    } else {
      aimed();
      put(aim);
    }
  });

  const middle = () => {
    const box = pane.getBoundingClientRect();
    return where({ clientX: box.left + pane.clientWidth / 2, clientY: box.top + pane.clientHeight / 2 });
  };
  const step = (dx, dy, pixels) => {
    const unit = pixels * Number(picture.style.getPropertyValue("--unit"));
    const [x, y] = aim || middle();
    aim = [Math.min(Math.max(x + dx * unit, 0), state.width), Math.min(Math.max(y + dy * unit, 0), state.height)];
    aimed();
    inSight();
  };
  const inPane = ([x, y]) => {
    const shown = picture.getBoundingClientRect(), frame = pane.getBoundingClientRect(), scale = shown.width / state.width;
    return [shown.left - frame.left - pane.clientLeft + pane.scrollLeft + x * scale, shown.top - frame.top - pane.clientTop + pane.scrollTop + y * scale];
  };
  const inSight = () => {
    const [x, y] = inPane(aim), edge = 30;
    pane.scrollLeft = Math.min(Math.max(pane.scrollLeft, x + edge - pane.clientWidth), x - edge);
    pane.scrollTop = Math.min(Math.max(pane.scrollTop, y + edge - pane.clientHeight), y - edge);
  };
  const larger = (factor) => {
    const kept = aim || middle();
    zoom = factor ? Math.min(Math.max(zoom * factor, 1), 12) : 1;
    fitIn();
    const [x, y] = inPane(kept);
    pane.scrollTo(x - pane.clientWidth / 2, y - pane.clientHeight / 2);
  };

  const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  pane.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !state || state.empty) return;
    if (KEYS[event.key]) step(...KEYS[event.key], event.shiftKey ? 1 : 10);
    else if (event.key === "Enter" && aim) put(aim);
    else if (event.key === "+") larger(1.5);
    else if (event.key === "-") larger(1 / 1.5);
    else if (event.key === "Escape" && (begun || held)) {
      begun = null;
      hold(mode === "marks" ? next() : null, true);
    } else return;
    event.preventDefault();
  });
  pane.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    larger(event.deltaY < 0 ? 1.25 : 0.8);
  }, { passive: false });

  for (const node of document.querySelectorAll("[data-zoom]")) node.addEventListener("click", () => larger(Number(node.dataset.zoom)));
  for (const node of document.querySelectorAll("[data-step]")) node.addEventListener("click", () => step(...node.dataset.step.split(" ").map(Number), 2));
  $("here").addEventListener("click", () => aim && put(aim));
  $("undo").addEventListener("click", () => send("undo", {}));
  $("first").checked = matchMedia("(pointer: coarse)").matches;
  $("board").addEventListener("change", (event) => {
    [mode, turn] = ["", 0];
    load(event.target.value, event.target.value ? "" : state.photo);
  });
  $("photo").addEventListener("change", (event) => load(state.board || null, event.target.value));
  for (const radio of document.querySelectorAll("[name=mode]")) {
    radio.addEventListener("change", () => {
      mode = radio.value;
      held = null;
      hold(next());
      show();
    });
  }
  addEventListener("resize", fitIn);
  addEventListener("focus", () => state && !busy && load(state.board, state.photo)); // another program may have written meanwhile
  addEventListener("keydown", (event) => {
    if (event.key === "z" && (event.ctrlKey || event.metaKey) && event.target.tagName !== "INPUT" && state && state.undo) {
      event.preventDefault();
      send("undo", {});
    }
  });
  load(query.has("board") ? query.get("board") : null, query.get("photo") || "");
})();
