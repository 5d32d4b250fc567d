/* When the camera says a photo was taken, read from the file on the phone: some browsers take it out on the way up.

   One reader for all kinds of files: JPEG, HEIC, AVIF, PNG and WebP all carry Exif as one TIFF block, unpacked, so it is
   enough to find its header. Numbers are those of Exif 2.32: 0x8769 leads to the Exif part, 0x9003 is DateTimeOriginal,
   0x9011 OffsetTimeOriginal. */

const REACH = 512 * 1024;
const EXIF = 0x8769;
const CLOCK = 0x9003;
const OFFSET = 0x9011;
const LONG = 4;
const TEXT = 2;

/**
 * @param {Blob} blob
 * @returns {Promise<{clock: string, offset: string} | null>} clock "YYYY:MM:DD HH:MM:SS", offset "+HH:MM" or "". Never rejects.
 */
export async function cameraTime(blob) {
  try {
    return (await search(blob, 0, REACH)) ?? (blob.size > REACH ? await search(blob, blob.size - REACH, blob.size) : null);
  } catch {
    return null;
  }
}

async function search(blob, from, to) {
  const view = new DataView(await blob.slice(from, to).arrayBuffer());
  for (let at = 0; at + 8 <= view.byteLength; at += 1) {
    const little = isHeader(view, at);
    const found = little === null ? null : readTime(view, at, little);
    if (found) return found;
  }
  return null;
}

/* True for little-endian, false for big-endian, null where no TIFF block starts. */
function isHeader(view, at) {
  const sign = view.getUint8(at);
  if (sign !== 0x49 && sign !== 0x4d) return null;
  const word = view.getUint32(at);
  if (word === 0x49492a00) return true;
  return word === 0x4d4d002a ? false : null;
}

/* A block of something else, or one that is cut off, has no time to tell. */
function readTime(view, base, little) {
  try {
    const exif = entries(view, base, view.getUint32(base + 4, little), little).get(EXIF);
    if (exif?.type !== LONG) return null;
    const found = entries(view, base, view.getUint32(exif.at, little), little);
    const clock = text(view, base, found.get(CLOCK), little);
    if (!/^\d{4}:\d\d:\d\d \d\d:\d\d:\d\d$/.test(clock) || clock.startsWith("0000")) return null;
    const offset = text(view, base, found.get(OFFSET), little);
    return { clock, offset: /^[+-]\d\d:\d\d$/.test(offset) ? offset : "" };
  } catch {
    return null;
  }
}

/* The entries of one directory: what they are, how long, and where their value (or its address) stands. */
function entries(view, base, offset, little) {
  const start = base + offset;
  const found = new Map();
  const count = view.getUint16(start, little);
  for (let index = 0; index < count; index += 1) {
    const at = start + 2 + index * 12;
    const type = view.getUint16(at + 2, little);
    found.set(view.getUint16(at, little), { type, count: view.getUint32(at + 4, little), at: at + 8 });
  }
  return found;
}

function text(view, base, entry, little) {
  if (entry?.type !== TEXT) return "";
  const at = entry.count <= 4 ? entry.at : base + view.getUint32(entry.at, little);
  let words = "";
  for (let index = 0; index < Math.min(entry.count, 40); index += 1) {
    const sign = view.getUint8(at + index);
    if (sign === 0) break;
    words += String.fromCharCode(sign);
  }
  return words.trim();
}
