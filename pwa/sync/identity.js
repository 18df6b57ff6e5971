// Makes the names of things: time-ordered ids (RFC 9562, version 7) and the phone's own device id.
// Keeps nothing and asks nothing: the clock's reading is handed in, random bits come from the system's generator.

/** @param {Uint8Array} bytes */
const hex = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");

/** @param {number} count */
function chance(count) {
  return crypto.getRandomValues(new Uint8Array(count));
}

/** A UUID version 7 for an instant in milliseconds since 1970: 48 bits of time, 74 of chance. @param {number} nowMs */
export function uuid7(nowMs) {
  const bytes = chance(16);
  let rest = Math.floor(nowMs);
  for (let i = 5; i >= 0; i -= 1) {
    bytes[i] = rest % 256;
    rest = Math.floor(rest / 256);
  }
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const text = hex(bytes);
  return [text.slice(0, 8), text.slice(8, 12), text.slice(12, 16), text.slice(16, 20), text.slice(20)].join("-");
}

// Sixteen lower-case hexadecimal digits, made once a phone and kept by the outbox.
export function newDevice() {
  return hex(chance(8));
}

/**
 * What the desk's list calls this phone until somebody says otherwise: whose it is and what it runs.
 *
 * @param {string | undefined} technician
 * @param {any} browser
 * @param {string} other what it is called where the browser does not say what it runs on
 */
export function phoneName(technician, { userAgent, userAgentData }, other) {
  const runs = userAgentData?.platform || /iPhone|iPad|Android|Windows|Mac|Linux/.exec(userAgent)?.[0];
  return [technician, runs || other].filter((part) => part).join(", ").slice(-60);
}

/** ISO 8601 with the phone's own offset, to the second: what a visit carries as its times. @param {Date} date */
export function isoLocal(date) {
  /** @param {number} number */
  const two = (number) => String(number).padStart(2, "0");
  const offset = -date.getTimezoneOffset();
  const away = Math.abs(offset);
  const day = [date.getFullYear(), two(date.getMonth() + 1), two(date.getDate())].join("-");
  const time = [date.getHours(), date.getMinutes(), date.getSeconds()].map(two).join(":");
  return `${day}T${time}${offset < 0 ? "-" : "+"}${two(Math.floor(away / 60))}:${two(away % 60)}`;
}
