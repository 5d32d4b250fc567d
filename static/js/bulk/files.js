/* Files from a folder that was chosen or dropped, each with its path; what is hidden or no photo is sorted out by name. */

/**
 * @typedef {{file: File, path: string}} Found
 * @param {FileList|File[]} files
 * @returns {Found[]}
 */
export function chosen(files) {
  return [...files].map((file) => ({ file, path: file.webkitRelativePath || file.name }));
}

/**
 * The files of everything dropped, folders to their last corner. Must be called while the drop is being handled.
 * @param {DataTransfer} data
 * @returns {Promise<{found: Found[], unread: string[]}>} `unread` names what could not be read
 */
export async function dropped(data) {
  // The browser forgets the list as soon as the drop has been handled, so all of it is taken before the first wait.
  const entries = [...data.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  if (!entries.length) return { found: chosen(data.files), unread: [] };
  const found = [];
  const unread = [];
  const waiting = entries.reverse();
  while (waiting.length) {
    const entry = waiting.pop();
    const path = entry.fullPath.replace(/^\//, "");
    try {
      if (entry.isDirectory) waiting.push(...(await inside(entry)).reverse());
      else found.push({ file: await new Promise((resolve, reject) => entry.file(resolve, reject)), path });
    } catch {
      unread.push(path);
    }
  }
  return { found, unread };
}

/* A folder is told in portions; an empty one is the end. */
async function inside(folder) {
  const reader = folder.createReader();
  const all = [];
  for (;;) {
    const some = await new Promise((resolve, reject) => reader.readEntries(resolve, reject));
    if (!some.length) return all.sort((one, other) => (one.name < other.name ? -1 : 1));
    all.push(...some);
  }
}

/**
 * @param {Found[]} found
 * @param {Set<string>} endings of photos and clips, in small letters
 * @returns {{wanted: Found[], passed: string[]}} by path; `passed` are hidden files and those that are no photos
 */
export function sortOut(found, endings) {
  const wanted = [];
  const passed = [];
  for (const one of found) (isPhoto(one, endings) ? wanted : passed).push(one);
  const byPath = (one, other) => one.path.localeCompare(other.path, undefined, { numeric: true });
  return { wanted: wanted.sort(byPath), passed: passed.sort(byPath).map((one) => one.path) };
}

function isPhoto({ file, path }, endings) {
  if (path.split("/").some((part) => part.startsWith("."))) return false;
  const ending = path.slice(path.lastIndexOf(".") + 1).toLowerCase();
  return endings.has(ending) || /^(image|video|audio)\//.test(file.type);
}

/** The same file chosen again, also after a reload: its path, size and time. */
export function nameOf({ file, path }) {
  return `${path}|${file.size}|${file.lastModified}`;
}
