// A scanned code stands behind the # of the address, which no browser sends: it is put in the form.
"use strict";

document.addEventListener("DOMContentLoaded", () => {
  const code = decodeURIComponent(location.hash.slice(1)).trim();
  if (!/^[0-9A-Za-z ]{4,20}$/.test(code)) return;
  history.replaceState(null, "", location.pathname + location.search);
  document.getElementById("code").value = code;
  document.getElementById("called").focus();
});
