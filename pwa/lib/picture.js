/**
 * Pictures: whether one is whole, and drawn anew by whatever this browser has, so that nothing of where it was taken is
 * left.
 */

import { t } from "./language.js";

/**
 * Whether a picture's file is there to its end. A browser may draw half a JPEG and say nothing; the server takes none.
 * Kinds that are not known here are left to the decoder.
 * @param {ArrayBuffer} buffer
 */
export function isWhole(buffer) {
  const bytes = new Uint8Array(buffer);
  if (bytes.length < 12) return false;
  if (bytes[0] === 0xff && bytes[1] === 0xd8) return hasEndOfImage(bytes);
  const view = new DataView(buffer);
  if (view.getUint32(0) === 0x52494646) return view.getUint32(4, true) + 8 <= bytes.length; // RIFF, the frame of WebP
  return true;
}

/**
 * Walk a JPEG's markers (ITU-T T.81, B.1.1) to the end of the image; a small picture kept inside a segment is passed
 * over.
 * @param {Uint8Array} bytes
 */
function hasEndOfImage(bytes) {
  let at = 2;
  while (at + 3 < bytes.length) {
    if (bytes[at] !== 0xff) return false;
    const marker = bytes[at + 1];
    if (marker === 0xff) {
      at += 1; // a fill byte
      continue;
    }
    if (marker === 0xd9) return true;
    at += 2 + bytes[at + 2] * 256 + bytes[at + 3];
    if (marker === 0xda) at = endOfScan(bytes, at);
  }
  return at + 1 < bytes.length && bytes[at] === 0xff && bytes[at + 1] === 0xd9;
}

/**
 * The place of the next marker after a scan's coded data: 0xFF followed by neither zero nor a restart.
 * @param {Uint8Array} bytes
 * @param {number} from
 */
function endOfScan(bytes, from) {
  let at = bytes.indexOf(0xff, from);
  while (at >= 0 && (bytes[at + 1] === 0 || (bytes[at + 1] >= 0xd0 && bytes[at + 1] <= 0xd7)))
    at = bytes.indexOf(0xff, at + 2);
  return at < 0 ? bytes.length : at;
}

/**
 * Whether a picture's file still carries what the camera wrote about it, the place among it (Exif, in JPEG, PNG, WebP).
 * @param {ArrayBuffer} buffer
 */
export function tellsMore(buffer) {
  const text = new TextDecoder("latin1").decode(buffer);
  return /Exif\0\0|^.PNG[^]*eXIf|^RIFF[^]*EXIF/.test(text);
}

/**
 * Width and height with the long edge at most `edge`, never enlarged.
 * @param {number} width
 * @param {number} height
 * @param {number} edge
 */
export function fitted(width, height, edge) {
  const share = Math.min(1, edge / Math.max(width, height));
  return { width: Math.max(1, Math.round(width * share)), height: Math.max(1, Math.round(height * share)) };
}

/**
 * A picture drawn anew as JPEG: pixels only, none of the camera's words about place, time or device. Rejects where the
 * browser cannot read the picture or cannot draw it.
 * @param {Blob} blob
 * @param {number} edge  longest side, px
 * @param {number} quality
 * @returns {Promise<{bytes: ArrayBuffer, width: number, height: number}>}
 */
export async function drawnAnew(blob, edge, quality) {
  const picture = await decoded(blob);
  try {
    const size = fitted(picture.width, picture.height, edge);
    return { bytes: await (await painted(picture, size, quality)).arrayBuffer(), ...size };
  } finally {
    if ("close" in picture) picture.close();
  }
}

/**
 * Read a picture and let it go again. Rejects where this browser cannot read it.
 * @param {Blob} blob
 */
export async function readThrough(blob) {
  const picture = await decoded(blob);
  if ("close" in picture) picture.close();
}

/**
 * A picture ready to be painted. Rejects where this browser cannot read it.
 * @param {Blob} blob
 * @returns {Promise<ImageBitmap | HTMLImageElement>}
 */
export async function decoded(blob) {
  if (typeof createImageBitmap === "function") return createImageBitmap(blob);
  const image = new Image();
  image.src = URL.createObjectURL(blob);
  try {
    await image.decode();
  } finally {
    URL.revokeObjectURL(image.src);
  }
  return image;
}

/**
 * @param {ImageBitmap | HTMLImageElement} picture
 * @param {{width: number, height: number}} size
 * @param {number} quality
 * @returns {Promise<Blob>}
 */
async function painted(picture, { width, height }, quality) {
  if (typeof OffscreenCanvas === "function") {
    const canvas = new OffscreenCanvas(width, height);
    paint(canvas.getContext("2d"), picture, width, height);
    return canvas.convertToBlob({ type: "image/jpeg", quality });
  }
  const canvas = Object.assign(document.createElement("canvas"), { width, height });
  paint(canvas.getContext("2d"), picture, width, height);
  return new Promise((resolve, reject) =>
    canvas.toBlob(
      (blob) => (blob ? resolve(blob) : reject(new Error(t`this browser cannot draw pictures`))),
      "image/jpeg",
      quality,
    ),
  );
}

/**
 * @param {CanvasRenderingContext2D | OffscreenCanvasRenderingContext2D | null} pen
 * @param {CanvasImageSource} picture
 * @param {number} width
 * @param {number} height
 */
function paint(pen, picture, width, height) {
  if (!pen) throw new Error(t`this browser cannot draw pictures`);
  pen.drawImage(picture, 0, 0, width, height);
}
