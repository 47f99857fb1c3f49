// Chooses paper or stage before the first paint, and keeps the choice.
(function () {
  "use strict";
  var key = "bellrow-theme";
  var dark = document.documentElement.dataset.dark === "yes" || matchMedia("(prefers-color-scheme: dark)").matches;
  var chosen = null;
  try { chosen = localStorage.getItem(key); } catch (e) { /* private window: nothing is kept */ }
  function show(theme) { document.documentElement.dataset.theme = theme; }
  show(chosen === "paper" || chosen === "stage" ? chosen : dark ? "stage" : "paper");
  addEventListener("DOMContentLoaded", function () {
    document.querySelectorAll("[data-theme-switch]").forEach(function (b) {
      function label() {
        b.textContent = document.documentElement.dataset.theme === "stage" ? b.dataset.toPaper || "light page" : b.dataset.toStage || "dark page";
      }
      label();
      document.addEventListener("words", label); // the page is in another language
      b.addEventListener("click", function () {
        var next = document.documentElement.dataset.theme === "stage" ? "paper" : "stage";
        show(next);
        label();
        try { localStorage.setItem(key, next); } catch (e) { /* as above */ }
      });
    });
  });
})();
