// Makes a photo small enough to keep and to carry: upright, 1600 px at most, JPEG, without the camera's notes on it.
// DOM only (a canvas does the work): nothing is kept or sent here.

import { el } from "./elements.js";

const LONGEST = 1600;
const THUMB = 192;
const MOST_BYTES = 1_900_000;
const BEST = 0.7;
const LESSER = [0.55, 0.4];

// What a browser cannot read as a picture; the words stand in words.js.
export class PictureFault extends Error {
  /** @param {unknown} [cause] */
  constructor(cause) {
    super("no_picture", { cause });
    this.code = "no_picture";
  }
}

/** @param {HTMLCanvasElement} canvas */
const contextOf = (canvas) => /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));

/** @param {ImageBitmap | HTMLCanvasElement} bitmap @param {number} longest */
function canvasOf(bitmap, longest) {
  const scale = Math.min(1, longest / Math.max(bitmap.width, bitmap.height));
  /** @param {number} side */
  const scaled = (side) => Math.max(1, Math.round(side * scale));
  const canvas = el("canvas", { width: scaled(bitmap.width), height: scaled(bitmap.height) });
  const context = contextOf(canvas);
  context.imageSmoothingQuality = "high";
  context.fillStyle = "#fff";
  context.fillRect(0, 0, canvas.width, canvas.height);
  context.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  return canvas;
}

/** @param {HTMLCanvasElement} canvas @param {number} quality */
const jpegOf = async (canvas, quality) => {
  /** @type {Blob | null} */
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", quality));
  if (blob === null) throw new PictureFault();
  return blob.arrayBuffer();
};

/** @param {Blob} file */
async function bitmapOf(file) {
  try {
    return await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch (error) {
    throw new PictureFault(error);
  }
}

/**
 * {type, bytes, thumb} of a picture file; both are JPEG as ArrayBuffer. Rejects with a PictureFault.
 *
 * @param {Blob} file
 * @returns {Promise<Picture>}
 */
export async function pictureOf(file) {
  const bitmap = await bitmapOf(file);
  const canvas = canvasOf(bitmap, LONGEST);
  bitmap.close();
  let bytes = await jpegOf(canvas, BEST);
  for (const quality of LESSER) {
    if (bytes.byteLength <= MOST_BYTES) break;
    bytes = await jpegOf(canvas, quality);
  }
  return { type: "image/jpeg", bytes, thumb: await jpegOf(canvasOf(canvas, THUMB), 0.6) };
}

/**
 * The small picture of a slip, drawn; a canvas needs no address of its own, so the content policy stays as strict.
 *
 * @param {HTMLCanvasElement} canvas
 * @param {ArrayBuffer} thumb
 */
export async function drawThumb(canvas, thumb) {
  const bitmap = await createImageBitmap(new Blob([thumb], { type: "image/jpeg" }));
  canvas.width = bitmap.width;
  canvas.height = bitmap.height;
  contextOf(canvas).drawImage(bitmap, 0, 0);
  bitmap.close();
}
