// A VIN from its barcode, where the browser can read one: a photo of the plate, and the first number in it.
// DOM only; typing is always possible, and other browsers show nothing of this.

import { vin_in } from "../kernel.js";
import { say } from "../language/words.js";
import { el } from "./elements.js";

const FORMATS = ["code_39", "code_128", "data_matrix", "qr_code", "pdf417"];

export const canReadBarcodes = () => window.BarcodeDetector !== undefined;

/**
 * `onVin(vin)` is called with a number of 17 characters, or with null if the picture shows none.
 *
 * @param {(vin: string | null) => unknown} onVin
 */
export function barcodeKey(onVin) {
  /** @param {Blob} file @returns {Promise<string | null>} */
  async function read(file) {
    if (window.BarcodeDetector === undefined) return null;
    const bitmap = await createImageBitmap(file);
    const codes = await new window.BarcodeDetector({ formats: FORMATS }).detect(bitmap);
    bitmap.close();
    return codes.map((code) => vin_in(code.rawValue)).find((vin) => vin !== null) ?? null;
  }
  const input = el("input", { type: "file", accept: "image/*", capture: "environment" });
  input.addEventListener("change", async () => {
    const file = input.files?.[0];
    if (file === undefined) return;
    await onVin(await read(file).catch(() => null));
    input.value = "";
  });
  return el("label", { class: "choice" }, input, el("span", null, say("phone.vin.barcode")));
}
