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

  // "of" finds what holds it; among other words it does not count, or a query would find almost every page.
  const { parse } = lunr.QueryParser.prototype;
  lunr.QueryParser.prototype.parse = function () {
    const query = parse.call(this);
    const distinctive = query.clauses.filter(({ term }) => lunr.stopWordFilter(term.replaceAll("*", "")));
    if (distinctive.length) query.clauses = distinctive;
    return query;
  };

  // The theme answers a query that failed with no results, and writes the error to the console alone: the page has to know.
  const { warn } = console, post = self.postMessage;
  let error;
  console.warn = (...words) => {
    error = words.join(" ");
    warn.apply(console, words);
  };
  self.postMessage = (message) => {
    post.call(self, { ...message, error });
    error = undefined;
  };
  addEventListener("unhandledrejection", ({ reason }) => post.call(self, { error: `${reason}` }));
})();
