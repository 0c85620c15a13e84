// On the page of a board: the entry that an address names also marks its pin, and a pin its entry.
(() => {
  const aim = () => {
    document.querySelectorAll(".br-aimed").forEach((e) => e.classList.remove("br-aimed"));
    const ref = decodeURIComponent(location.hash.slice(1)).replace(/^part-/, "");
    const pin = ref && document.getElementById(ref);
    if (pin && pin.closest("svg")) pin.classList.add("br-aimed");
  };
  addEventListener("hashchange", aim);
  aim();
})();

// Photographs on which every designator is written are shown larger: so are their pixels.
document.querySelector(".br-names")?.addEventListener("change", (event) => {
  document.querySelectorAll(".br-pinned source").forEach((source) => {
    source.dataset.sizes ??= source.sizes;
    source.sizes = event.target.checked ? `${source.closest(".br-frame").clientWidth}px` : source.dataset.sizes;
  });
});

// All photographs: the page loads light. Once somebody moves through it, what is in view gets the pixels of a fine screen, up to the middle size.
(() => {
  const sharpen = new IntersectionObserver((seen) => seen.filter((e) => e.isIntersecting).forEach(({ target }) => {
    sharpen.unobserve(target);
    target.querySelector("source").sizes = `${Math.min(target.clientWidth, 960 / devicePixelRatio)}px`;
  }));
  const pictures = document.querySelectorAll(".br-contact-sheet .br-frame");
  if (devicePixelRatio > 1 && !navigator.connection?.saveData)
    addEventListener("scroll", () => pictures.forEach((p) => sharpen.observe(p)), { once: true, passive: true });
})();

// Before and after: one picture over the other, and a slider that moves the line between them. Without this they stand side by side.
document.querySelectorAll(".br-compare").forEach((figure) => {
  const slide = figure.querySelector(".br-slide"), input = slide.querySelector("input"), pictures = figure.querySelector(".br-compared");
  const cut = (percent) => {
    input.value = percent;
    input.setAttribute("aria-valuetext", `${input.value} % as found`);
    pictures.style.setProperty("--br-cut", `${input.value}%`);
  };
  const follow = (event) => {
    const frame = pictures.getBoundingClientRect();
    if (event.buttons === 1) cut((100 * (event.clientX - frame.left)) / frame.width);
  };
  input.addEventListener("input", () => cut(input.value));
  pictures.addEventListener("pointerdown", follow);
  pictures.addEventListener("pointermove", follow);
  pictures.addEventListener("dragstart", (event) => event.preventDefault());
  slide.hidden = false;
  figure.classList.add("br-compare-on");
  cut(50);
});

// The archive's lists: show only the rows that hold every word typed, each with the headings that it stands under.
document.querySelectorAll(".br-filter").forEach((filter) => {
  const input = filter.querySelector("input"), told = filter.querySelector("output");
  const plain = (element) => element.textContent.toLowerCase();
  const level = (element) => (/^H[2-6]$/.test(element.tagName) ? Number(element.tagName[1]) : 0);
  const blocks = [...filter.parentElement.children].slice([...filter.parentElement.children].indexOf(filter) + 1);
  const rowsOf = (block) => [...block.querySelectorAll("tbody > tr, :scope > li")];
  const lists = blocks.filter((block) => rowsOf(block).length).map((block) => {
    const above = [];
    for (let n = blocks.indexOf(block) - 1; n >= 0; n--) {
      const own = level(blocks[n]);
      if (own && own < (above.length ? level(above[above.length - 1]) : 7)) above.push(blocks[n]);
    }
    return { block, above, under: above.map(plain).join(" "), rows: rowsOf(block).map((row) => ({ row, text: plain(row) })) };
  });
  const sift = () => {
    const words = input.value.toLowerCase().split(/\s+/).filter(Boolean);
    const shown = new Set();
    let count = 0;
    lists.forEach(({ block, above, under, rows }) => {
      const found = rows.filter(({ row, text }) => {
        row.hidden = !words.every((word) => text.includes(word) || under.includes(word));
        return !row.hidden;
      });
      block.hidden = !found.length;
      count += found.length;
      if (found.length) above.forEach((heading) => shown.add(heading));
    });
    blocks.forEach((block) => {
      if (level(block)) block.hidden = words.length > 0 && !shown.has(block);
      else if (!lists.some((list) => list.block === block)) block.hidden = words.length > 0;
    });
    told.textContent = words.length ? (count === 1 ? "1 row" : `${count} rows`) : "";
  };
  input.addEventListener("input", sift);
});
