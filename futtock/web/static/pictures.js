// Photographs that wait on this tablet: made smaller, kept in its database until they are sent.
"use strict";

globalThis.futtockPictures = (() => {
  const STORE = "pictures", WIDEST = 2000, QUALITY = 0.85;
  const memory = new Map();
  let opening = null;

  function base() {
    opening ??= new Promise((done, failed) => {
      const asked = indexedDB.open("futtock-floor", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore(STORE);
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => failed(asked.error);
    });
    return opening;
  }
  async function ask(mode, does) {
    const store = (await base()).transaction(STORE, mode).objectStore(STORE);
    return new Promise((done, failed) => {
      const asked = does(store);
      store.transaction.oncomplete = () => done(asked.result);
      store.transaction.onabort = store.transaction.onerror = () => failed(store.transaction.error);
    });
  }

  // false: this browser keeps it only while the page is open
  async function put(id, blob) {
    try { await ask("readwrite", (s) => s.put(blob, id)); return true; }
    catch { memory.set(id, blob); return false; }
  }
  async function get(id) {
    if (memory.has(id)) return memory.get(id);
    try { return await ask("readonly", (s) => s.get(id)); } catch { return undefined; }
  }
  async function drop(id) {
    memory.delete(id);
    try { await ask("readwrite", (s) => s.delete(id)); } catch { /* it was not there */ }
  }

  // As large as is worth keeping; what this browser cannot read is sent as it is.
  async function smaller(file) {
    try {
      const picture = await createImageBitmap(file), by = Math.min(1, WIDEST / Math.max(picture.width, picture.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.round(picture.width * by);
      canvas.height = Math.round(picture.height * by);
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      picture.close();
      const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
      return blob || file;
    } catch { return file; }
  }
  return { put, get, drop, smaller };
})();
