// The photos of a step: a key to take one for each role, what is kept as small pictures, a way to delete one.
// DOM only: files are handed on, slips are asked for; where bytes are kept and when they go is decided elsewhere.

import { button, el } from "./elements.js";
import { drawThumb } from "./picture.js";
import { clock } from "../language/formats.js";
import { has, say, term } from "../language/words.js";
import { beside, sentenceCase } from "./words.js";

/** @param {string} words @param {Attributes} more @param {(files: File[]) => Promise<void>} take */
function key(words, more, take) {
  const input = el("input", { type: "file", accept: "image/*", ...more });
  input.addEventListener("change", async () => {
    await take([...(input.files ?? [])]);
    input.value = "";
  });
  return el("label", { class: "choice" }, input, el("span", null, words));
}

/** A second tap deletes: the first only asks, since gloves slip. @param {string} name @param {() => unknown} strike */
function strikeKey(name, strike) {
  let asked = false;
  const press = () => {
    if (asked) return strike();
    asked = true;
    element.textContent = say("phone.photo.delete_sure");
    return undefined;
  };
  const label = say("phone.photo.delete_name", { name });
  const element = button(say("phone.photo.delete"), press, { class: "quiet", "aria-label": label });
  return element;
}

/** @param {Slip | undefined} slip */
const stateOf = (slip) => {
  if (slip === undefined) return say("phone.photo.elsewhere");
  const reason = `phone.photo.${slip.reason}`;
  return say(slip.state === "refused" && has(reason) ? reason : `phone.photo.${slip.state}`);
};

/**
 * @param {VisitPhoto} photo
 * @param {Slip | undefined} slip
 * @param {string} words
 * @param {(sha256: string) => unknown} strike
 */
function shownPhoto(photo, slip, words, strike) {
  const time = photo.at === undefined ? null : clock(new Date(photo.at));
  const name = time === null ? words : say("phone.photo.name", { role: words, clock: time });
  const line = beside([time, stateOf(slip)]);
  const canvas = el("canvas", { role: "img", "aria-label": name, width: 4, height: 3 });
  /** @param {Error} error */
  const tell = ({ message }) =>
    canvas.replaceWith(el("p", { class: "meaning" }, say("phone.photo.unreadable", { message })));
  if (slip?.thumb !== undefined) drawThumb(canvas, slip.thumb).catch(tell);
  return el("li", null, canvas, el("p", { class: "meaning" }, line), strikeKey(name, () => strike(photo.sha256)));
}

/**
 * The photos of one role; `drawn` tells which of them are on the screen.
 *
 * @param {string} role
 * @param {boolean} headed
 * @param {Actions} actions
 */
function photoGroup(role, headed, actions) {
  const name = term("photo_role", role);
  const words = sentenceCase(name);
  /** @param {File[]} files */
  const take = (files) => actions.takePhotos(role, files);
  const camera = key(say("phone.photo.take"), { capture: "environment" }, take);
  const keys = el("div", { class: "choices" }, camera, key(say("phone.photo.choose"), { multiple: true }, take));
  const pictures = el("ul", { class: "photos" });
  const group = { class: "photo-role", role: "group", "aria-label": say("phone.photo.group", { role: name }) };
  const root = el("section", group, headed && el("h3", null, words), pictures, keys);
  return { role, words, pictures, root, drawn: /** @type {string | null} */ (null) };
}

/**
 * `actions.takePhotos(role, files)`, `actions.strikePhoto(sha256)` and `actions.slips(names)` do the work.
 *
 * @param {string[]} roles
 * @param {Actions} actions
 * @returns {Part}
 */
export function photosBlock(roles, actions) {
  const groups = roles.map((role) => photoGroup(role, roles.length > 1, actions));
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
  return { root: el("section", { class: "photo-block" }, el("h2", null, say("phone.photo.title")), sections), refresh };
}
