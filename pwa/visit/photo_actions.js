// What happens when a photo is taken or struck in an open visit: made small, kept with its operation, or refused.
// It draws nothing and sends nothing; the picture is made by form/picture.js, the bytes are kept by capture.js.

import { pictureOf } from "../form/picture.js";
import { faultWords } from "../form/words.js";

export function photoActions({ page, capture, outbox, write, stored, failed, say, refresh }) {
  async function keepOne(role, file) {
    say("Making the picture smaller");
    const instant = await capture.addPhoto(page, role, await pictureOf(file));
    if (instant === null) return say("This very photo is here already, or was struck here; take another.");
    stored(instant);
    return refresh();
  }
  return {
    takePhotos: async (role, files) => {
      try {
        for (const file of files) await keepOne(role, file);
      } catch (error) {
        // What is written fits into far less room than a picture: the text goes on being kept.
        if (error.code === "disk_full") say(faultWords({ code: "photo_full" }), "wrong");
        else failed(error);
      }
    },
    strikePhoto: async (sha256) => {
      if (await write([{ kind: "item.strike", base: {}, body: { list: "photos", id: sha256 } }])) refresh();
    },
    slips: (names) => outbox.slips(names),
  };
}
