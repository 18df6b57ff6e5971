// What comes after the first start, as one module a language: the screen for a logger's file, and sensors.
// The desk writes its words and the book of loggers into it; the page hands over all else.

import { regionFor } from "../language/chosen.js";
import { useFormats } from "../language/formats.js";
import { useWords } from "../language/words.js";
import { openFile } from "./logger.js";
import { readSensor } from "./sensor.js";

/** @typedef {import("../loggers.js").LoggersBook} LoggersBook */

// The desk writes {language, words, book} in the place of this word.
/** @type {any} */
const SHELF = "LAYBY_LATER";

// This module has copies of the page's modules, with words of their own.
useWords(SHELF.words, SHELF.language);
useFormats(regionFor(SHELF.language, navigator.languages));

export const later = {
  /** @param {File} file @param {import("./logger.js").About} about */
  openFile: (file, about) => openFile(file, about, SHELF.book),
  readSensor,
};
