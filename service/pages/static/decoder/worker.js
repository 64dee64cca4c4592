"use strict";
// Reads QR symbols away from the page, which stays quick. It takes { id, image, most } and answers { id, found } or { id, failed }.
// The address of all three files changes with any of them, since browsers keep them for a year.
const version = self.location.search;
importScripts(`zxing_reader.js${version}`);
ZXingWASM.prepareZXingModule({ overrides: { locateFile: (name) => `/static/decoder/${name}${version}` } });
const pixels = (image) => {
  if (image instanceof ImageData) return image;
  const canvas = new OffscreenCanvas(image.width, image.height), draw = canvas.getContext("2d", { willReadFrequently: true });
  draw.drawImage(image, 0, 0);
  image.close();
  return draw.getImageData(0, 0, canvas.width, canvas.height);
};
onmessage = async ({ data: { id, image, most } }) => {
  try {
    const read = image ? await ZXingWASM.readBarcodes(pixels(image), { formats: ["QRCode"], maxNumberOfSymbols: most || 1 }) : [];
    if (!image) await ZXingWASM.prepareZXingModule({ fireImmediately: true });
    postMessage({ id, found: read.filter((one) => one.isValid).map((one) => ({ text: one.text, at: one.position })) });
  } catch (problem) {
    postMessage({ id, failed: String(problem) });
  }
};
