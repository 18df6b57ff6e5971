// The photos of a step: a key to take one for each role, what is kept as small pictures, a way to strike one.
// DOM only: files are handed on, slips are asked for; where bytes lie and when they go is none of its affair.

import { button, el } from "./elements.js";
import { drawThumb } from "./picture.js";
import { clock, codeWords, PHOTO_FAULTS, PHOTO_STATES, sentenceCase } from "./words.js";

/** @param {string} words @param {Attributes} more @param {(files: File[]) => Promise<void>} take */
function key(words, more, take) {
  const input = el("input", { type: "file", accept: "image/*", ...more });
  input.addEventListener("change", async () => {
    await take([...(input.files ?? [])]);
    input.value = "";
  });
  return el("label", { class: "choice" }, input, el("span", null, words));
}

/** A second tap strikes: the first only asks, since gloves slip. @param {string} name @param {() => unknown} strike */
function strikeKey(name, strike) {
  let asked = false;
  const press = () => {
    if (asked) return strike();
    asked = true;
    element.textContent = "Strike for good";
    return undefined;
  };
  const element = button("Strike", press, { class: "quiet", "aria-label": `Strike the photo ${name}` });
  return element;
}

/** @param {Slip | undefined} slip */
const stateOf = (slip) => {
  if (slip === undefined) return "not on this phone";
  if (slip.state === "refused") return PHOTO_FAULTS[slip.reason ?? ""] ?? "refused by the desk";
  return PHOTO_STATES[slip.state];
};

/**
 * @param {VisitPhoto} photo
 * @param {Slip | undefined} slip
 * @param {string} words
 * @param {(sha256: string) => unknown} strike
 */
function shownPhoto(photo, slip, words, strike) {
  const time = photo.at === undefined ? null : clock(new Date(photo.at));
  const name = [words, time].filter((part) => part).join(", ");
  const line = [time, stateOf(slip)].filter((part) => part).join(" \u00b7 ");
  const canvas = el("canvas", { role: "img", "aria-label": name, width: 4, height: 3 });
  /** @param {Error} error */
  const say = (error) => canvas.replaceWith(el("p", { class: "meaning" }, `no picture: ${error.message}`));
  if (slip?.thumb !== undefined) drawThumb(canvas, slip.thumb).catch(say);
  return el("li", null, canvas, el("p", { class: "meaning" }, line), strikeKey(name, () => strike(photo.sha256)));
}

/**
 * The photos of one role; `drawn` tells which of them are on the screen.
 *
 * @param {string} role
 * @param {boolean} headed
 * @param {Tools} tools
 * @param {Actions} actions
 */
function photoGroup(role, headed, tools, actions) {
  const words = sentenceCase(codeWords(tools.rulebook, role, "photo_role"));
  /** @param {File[]} files */
  const take = (files) => actions.takePhotos(role, files);
  const camera = key("Take a photo", { capture: "environment" }, take);
  const keys = el("div", { class: "choices" }, camera, key("Choose", { multiple: true }, take));
  const pictures = el("ul", { class: "photos" });
  const group = { class: "photo-role", role: "group", "aria-label": `Photos, ${words.toLowerCase()}` };
  const root = el("section", group, headed && el("h3", null, words), pictures, keys);
  return { role, words, pictures, root, drawn: /** @type {string | null} */ (null) };
}

/**
 * `actions.takePhotos(role, files)`, `actions.strikePhoto(sha256)` and `actions.slips(names)` do the work.
 *
 * @param {string[]} roles
 * @param {Tools} tools
 * @param {Actions} actions
 * @returns {Part}
 */
export function photosBlock(roles, tools, actions) {
  const groups = roles.map((role) => photoGroup(role, roles.length > 1, tools, actions));
  /** @param {ReturnType<typeof photoGroup>} group @param {VisitPhoto[]} photos */
  async function draw(group, photos) {
    const slips = await actions.slips(photos.map((photo) => photo.sha256));
    const rows = photos.map((photo, index) => shownPhoto(photo, slips[index], group.words, actions.strikePhoto));
    group.pictures.replaceChildren(...rows);
  }
  /** @param {Sight} sight */
  function refresh(sight) {
    for (const group of groups) {
      const photos = (sight.visit.photos ?? []).filter((photo) => photo.role === group.role);
      const now = photos.map((photo) => photo.sha256).join();
      if (now === group.drawn) continue;
      group.drawn = now;
      draw(group, photos).catch(actions.failed);
    }
  }
  const sections = groups.map((group) => group.root);
  return { root: el("section", { class: "photo-block" }, el("h2", null, "Photos"), sections), refresh };
}
