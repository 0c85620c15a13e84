// The search box of the theme: what is typed becomes a query that its worker cannot misread, and what fails is said in the box.
// publish/site_search/ has the other half: what is indexed, and what is added to the worker.
(() => {
  const input = document.querySelector(".md-search__input"), status = document.querySelector(".md-search-result__meta");
  if (!input || !status) return;

  const SETUP = 0, READY = 1, QUERY = 2, RESULT = 3; // types of the theme's messages
  const EXACT = "^10", SLOW_MS = 20_000;
  let separator = "\\s+", query = "", ready = false;

  const spelt = (word) => word.normalize("NFC").replaceAll("µ", "μ"); // as the worker does
  const wordsOf = (text) => text.split(new RegExp(separator)).map(spelt).filter((word) => /[^*]/.test(word));

  // A word is found by its beginning, and sooner as a whole. Of a code such as S-0123 all pieces are required; of what is in quotes all
  // words, whole. The theme's own signs (+ - ~ ^ :) have no meaning: they belong to readings, as in -12.03 V.
  const codeQuery = (words) => words.flatMap((word) => [`${word}${EXACT}`, words.length > 1 ? `+${word}*` : word]);
  const queryOf = (typed) => typed.split(/["“”„]([^"“”„]*)["“”]/).flatMap((part, n) => (
    n % 2 ? wordsOf(part).map((word) => `+${word}`) : part.split(/\s+/).flatMap((code) => codeQuery(wordsOf(code)))
  )).join(" ");

  // The worker parts words at tags: V<sub>cc</sub> is one word to a reader.
  const wordsWhole = ({ title, text, ...doc }) => {
    const [wholeTitle, wholeText] = [title, text].map((html) => html.replace(/<\/?(?:sub|sup|code)>/g, ""));
    return { ...doc, title: wholeTitle, text: wholeText };
  };

  const onMessage = ({ data: { type, error, data } }) => {
    ready ||= type === READY;
    if (error !== undefined) status.textContent = `The search failed (${error}). This does not mean that nothing matches.`;
    else if (type === RESULT && input.value && !query) status.textContent = "Type a word or a number to search for";
  };

  const post = Worker.prototype.postMessage;
  Worker.prototype.postMessage = function (message, ...rest) {
    if (message?.type === SETUP) {
      ({ separator } = message.data.config);
      this.addEventListener("message", onMessage); // behind the theme's own listener
      this.addEventListener("error", ({ message: error }) => onMessage({ data: { error } }));
      message = { ...message, data: { ...message.data, docs: message.data.docs.map(wordsWhole) } };
    } else if (message?.type === QUERY) {
      query = queryOf(message.data);
      message = { ...message, data: query };
    }
    return post.call(this, message, ...rest);
  };

  // Words that are pasted, spoken or dropped come without a key, and the theme listens to keys alone.
  input.addEventListener("input", () => input.dispatchEvent(new Event("keyup")));

  input.addEventListener("focus", () => setTimeout(() => {
    if (!ready) status.textContent = "The search is not ready yet. If this stays, a file of it could not be loaded.";
  }, SLOW_MS), { once: true });
  addEventListener("error", ({ target }) => {
    if (target.src?.includes("/search_index")) status.textContent = "The search does not work: its index could not be loaded.";
  }, true);
})();

// What the search finds is a section. Where the word searched for is a part of this board, the page opens at that part or its pin.
addEventListener("load", () => {
  const before = { "#parts": "part-", "#map": "" }[location.hash], sought = new URLSearchParams(location.search).get("h");
  const part = before !== undefined && sought && document.querySelector(`[id="${before}${CSS.escape(sought)}" i]`);
  if (part) location.replace(`#${part.id}`);
});
