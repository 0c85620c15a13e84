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
