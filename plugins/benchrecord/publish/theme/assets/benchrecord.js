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
