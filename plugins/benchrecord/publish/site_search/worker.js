;(() => {
  // Added to the theme's search worker, which runs in a worker or, for a page opened from the disk, in an iframe.
  const { lunr } = self;

  // The key by which equal nodes of the word graph are merged. Without a sign behind each number, a node whose edge 1 leads to node 234 and
  // one whose edges 1 and 3 lead to nodes 2 and 4 have the same: words vanish, and others appear that no index has.
  lunr.TokenSet.prototype.toString = function () {
    const edge = (letter) => `${letter}${this.edges[letter].id},`;
    return this._str || (this.final ? "1" : "0") + Object.keys(this.edges).sort().map(edge).join("");
  };

  // Spellings of one word: accents composed or not, the signs of micro and ohm or the Greek letters.
  const { Token } = lunr;
  lunr.Token = function (word, metadata) {
    Token.call(this, word.normalize("NFC").replaceAll("µ", "μ"), metadata);
  };
  lunr.Token.prototype = Token.prototype;

  // "of" finds what holds it; among other words it does not count.
  const { parse } = lunr.QueryParser.prototype;
  lunr.QueryParser.prototype.parse = function () {
    const query = parse.call(this);
    const distinctive = query.clauses.filter(({ term }) => lunr.stopWordFilter(term.replaceAll("*", "")));
    if (distinctive.length) query.clauses = distinctive;
    return query;
  };

  // What holds all words is found; only where nothing does, what holds some of them. A clause with a boost orders what others find.
  const { OPTIONAL, REQUIRED } = lunr.Query.presence, find = lunr.Index.prototype.query;
  lunr.Index.prototype.query = function (fill) {
    const all = find.call(this, (query) => {
      fill.call(query, query);
      query.clauses.filter((c) => c.presence === OPTIONAL && c.boost === 1).forEach((c) => { c.presence = REQUIRED; });
    });
    return all.length ? all : find.call(this, fill);
  };

  // A result shows the words around those that were found, of each one at least once, and not the whole table that they are in.
  const AROUND = 80, SHOWN = 4; // characters, words
  const excerpt = (html) => {
    const text = html.replace(/<(?!\/?mark>)[^>]*>/g, " ").replace(/\s+/g, " ").trim();
    const marks = [...text.matchAll(/<mark>(.*?)<\/mark>/g)], words = new Map(marks.map((m) => [m[1].toLowerCase(), m]).reverse());
    const found = [...new Set([...words.values(), ...marks])].slice(0, SHOWN).map((m) => [m.index, m.index + m[0].length]);
    const pieces = [];
    for (const [start, end] of found.length ? found.sort(([a], [b]) => a - b) : [[0, AROUND]]) {
      const from = text.lastIndexOf(" ", start - AROUND) + 1 || 0, to = text.indexOf(" ", end + AROUND);
      const last = pieces[pieces.length - 1], until = to < 0 ? text.length : to;
      if (last && from <= last[1]) last[1] = until;
      else pieces.push([from, until]);
    }
    const cut = (at) => (at > 0 && at < text.length ? "…" : "");
    return pieces.map(([from, to], n) => `${n ? "" : cut(from)} ${text.slice(from, to)} ${cut(to)}`).join("");
  };

  // Pages of different jobs have the same titles: where there are several jobs, a result names its own.
  const jobs = new Map(), partsOf = (location) => /^jobs\/([^/#]+)\/(?:index\.html$)?(.*)/.exec(location) ?? [];
  addEventListener("message", ({ data: { data } }) => {
    for (const { location, title } of data?.docs ?? []) {
      const [, job, page] = partsOf(location);
      if (page === "") jobs.set(job, title);
    }
  });
  const titled = ({ location, title }) => {
    const [, job, page] = partsOf(location);
    if (jobs.size < 2 || !jobs.has(job) || page.includes("#")) return title;
    return `${title}${page && ` · ${jobs.get(job)}`} (${job})`;
  };
  const shown = (item) => ({ ...item, title: titled(item), text: excerpt(item.text) });

  // The theme answers a query that failed with no results, and writes the error to the console alone: the page has to know.
  const { warn } = console, post = self.postMessage;
  let error;
  console.warn = (...words) => {
    error = words.join(" ");
    warn.apply(console, words);
  };
  self.postMessage = ({ data, ...message }) => {
    post.call(self, { ...message, error, data: data && { ...data, items: data.items.map((page) => page.map(shown)) } });
    error = undefined;
  };
  addEventListener("unhandledrejection", ({ reason }) => post.call(self, { error: `${reason}` }));
})();
