"use strict";
(() => {
  const body = document.querySelector("#parts tbody");
  const rows = [...body.rows];
  const heads = [...document.querySelectorAll("#parts thead th[data-key]")];
  const sortBy = document.getElementById("sort-by");
  const showOnly = document.getElementById("show-only");
  const find = document.getElementById("find");
  const words = new Intl.Collator("en", { numeric: true, sensitivity: "base" });
  const valueOf = (row, key) => row.getAttribute("data-" + key.toLowerCase().replaceAll("_", "-")) ?? "";

  function sort(key, isDescending) {
    const sign = isDescending ? -1 : 1;
    const isWords = key === "name";
    const sorted = [...rows].sort((one, other) => {
      const [a, b] = [valueOf(one, key), valueOf(other, key)];
      if (a === "" || b === "") return (a === "") - (b === "");  // what is not known comes last either way
      const order = isWords ? words.compare(a, b) : Number(a) - Number(b);
      return sign * order || Number(valueOf(one, "look")) - Number(valueOf(other, "look"));
    });
    body.append(...sorted);
    for (const head of heads) {
      if (head.dataset.key === key) head.setAttribute("aria-sort", isDescending ? "descending" : "ascending");
      else head.removeAttribute("aria-sort");
    }
    sortBy.value = key;
  }

  function filter() {
    const asked = find.value.trim().toLowerCase();
    for (const row of rows) {
      const kind = valueOf(row, "kind");
      const isKind = showOnly.value === "" || (showOnly.value === "look" ? kind !== "" : kind === showOnly.value);
      row.hidden = !(isKind && (asked === "" || row.textContent.toLowerCase().includes(asked)));
    }
  }

  const isNumber = (key) => key !== "name" && key !== "look";
  for (const head of heads) {
    head.querySelector("button").addEventListener("click", () => {
      const now = head.getAttribute("aria-sort");
      sort(head.dataset.key, now === null ? isNumber(head.dataset.key) : now === "ascending");
    });
  }
  sortBy.addEventListener("change", () => sort(sortBy.value, isNumber(sortBy.value)));
  showOnly.addEventListener("change", filter);
  find.addEventListener("input", filter);
  sort("look", false);
})();
