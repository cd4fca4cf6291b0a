"use strict";
// What makes reading easier where scripts run: tables that sort and filter, the
// mark that was pointed at in a line below its chart, and all results on paper.
// Nothing is fetched, kept or sent, and without it the page says the same.
(() => {
  const collator = new Intl.Collator("en", { numeric: true, sensitivity: "base" });
  const make = (name, text) => {
    const e = document.createElement(name);
    if (text) e.textContent = text;
    return e;
  };

  // number reads the first number of a text; what is never reached comes last.
  const number = (text) => {
    if (text.startsWith("not reached")) return Infinity;
    const found = text.replace("−", "-").match(/-?\d+(?:\.\d+)?(?:e[+-]?\d+)?/i);
    return found ? parseFloat(found[0]) : NaN;
  };
  const shown = (cell) => cell.dataset.key || cell.textContent.trim();

  const order = (numeric, a, b) => {
    if (numeric) {
      const x = number(a), y = number(b);
      if (!Number.isNaN(x) && !Number.isNaN(y) && x !== y) return x - y;
    }
    return collator.compare(a, b);
  };

  const empty = (text) => text === "" || text === "–";

  const sort = (table, first, column, direction) => {
    let rows = first.slice();
    if (direction) {
      const numeric = table.tHead.rows[0].cells[column].classList.contains("n") ||
        first.every((row) => row.cells[column].dataset.key);
      const keyed = rows.map((row) => [shown(row.cells[column]), row]);
      keyed.sort(([a], [b]) => empty(a) || empty(b) ? empty(a) - empty(b) : direction * order(numeric, a, b));
      rows = keyed.map(([, row]) => row);
    }
    table.tBodies[0].append(...rows);
  };

  const sorts = (table) => {
    const first = Array.from(table.tBodies[0].rows);
    const heads = Array.from(table.tHead.rows[0].cells);
    heads.forEach((head, column) => {
      const button = make("button");
      button.type = "button";
      button.append(...head.childNodes);
      head.append(button);
      button.addEventListener("click", () => {
        const next = { none: 1, ascending: -1, descending: 0 }[head.ariaSort || "none"];
        heads.forEach((h) => h.removeAttribute("aria-sort"));
        if (next) head.setAttribute("aria-sort", next > 0 ? "ascending" : "descending");
        sort(table, first, column, next);
      });
    });
  };

  const filters = (block, table) => {
    const rows = Array.from(table.tBodies[0].rows);
    const texts = rows.map((row) => Array.from(row.cells, (cell) => cell.textContent).join(" ").toLowerCase());
    const tools = make("div");
    const label = make("label", "Filter ");
    const input = make("input");
    const count = make("output");
    tools.className = "tools";
    input.type = "search";
    input.setAttribute("aria-label", "Filter " + table.caption.textContent);
    label.append(input);
    tools.append(label, count);
    block.prepend(tools);
    input.addEventListener("input", () => {
      const wanted = input.value.toLowerCase().split(/\s+/);
      let left = 0;
      rows.forEach((row, i) => {
        row.hidden = !wanted.every((word) => texts[i].includes(word));
        if (!row.hidden) left++;
      });
      count.textContent = input.value.trim() ? `${left} of ${rows.length} rows` : "";
    });
  };

  // A table gets its tools when it comes near the window, so that a long page is
  // not slow to open; and what does not scroll needs no stop of the Tab key.
  const near = new IntersectionObserver((seen) => {
    for (const { target, isIntersecting } of seen) {
      if (!isIntersecting) continue;
      const table = target.querySelector("table.sorts");
      if (table && !target.dataset.ready) {
        target.dataset.ready = "yes";
        if (table.tBodies[0].rows.length > 1) sorts(table);
        if (table.tBodies[0].rows.length > 7) filters(target, table);
      }
      const scroll = target.querySelector(".scroll");
      if (scroll.scrollWidth > scroll.clientWidth + 1) scroll.tabIndex = 0;
      else scroll.removeAttribute("tabindex");
    }
  }, { rootMargin: "400px 0px" });
  const watch = () => document.querySelectorAll(".block,figure.wide").forEach((block) => {
    near.unobserve(block);
    near.observe(block);
  });
  watch();
  addEventListener("resize", watch);

  // The mark that was pointed at, or touched, is read below its chart.
  document.addEventListener("pointerover", (event) => {
    const title = event.target.closest && event.target.closest("svg g>path")?.querySelector("title");
    if (!title) return;
    title.closest("figure").querySelector(".read").textContent = title.textContent;
  });
  document.querySelectorAll("figure").forEach((figure) => {
    if (!figure.querySelector("svg g>path")) return;
    const line = make("p", figure.className === "wide" ? "Point at a mark to read it here." : "");
    line.className = "read";
    figure.querySelector(".scroll,svg").after(line);
  });

  // All results at once, or none.
  const results = document.getElementById("results");
  const folds = results ? Array.from(results.parentElement.querySelectorAll(":scope>details")) : [];
  if (folds.length > 1) {
    const tools = make("div");
    tools.className = "tools";
    for (const [text, open] of [["Open all", true], ["Close all", false]]) {
      const button = make("button", text);
      button.type = "button";
      button.addEventListener("click", () => folds.forEach((fold) => { fold.open = open; }));
      tools.append(button);
    }
    results.after(tools);
  }

  // On paper everything stands that the PDF has; the lists of single values only
  // where they were opened.
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = Array.from(document.querySelectorAll("details:not([open]):not(.values)"));
    opened.forEach((fold) => { fold.open = true; });
  });
  addEventListener("afterprint", () => {
    opened.forEach((fold) => { fold.open = false; });
    opened = [];
  });
})();
