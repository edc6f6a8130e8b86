// Who leaves takes the kept pages away; entries that were not sent stay until they are.
"use strict";

(async () => {
  try {
    for (const name of await caches.keys()) await caches.delete(name);
    for (const kept of await navigator.serviceWorker.getRegistrations()) await kept.unregister();
  } catch { /* this browser keeps no pages */ }
})();
