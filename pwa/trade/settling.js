// Whether a running test has levelled, from its trace: settled or not, where the vent is heading, how long to wait.
// Twin of sync/kernel/settling.py; limits are rulebook data, instants are seconds after the test's start.

import { absent, partOf } from "./inputs.js";
import { between } from "./interpolation.js";

// The points that hold this reading, in rising time; what steps back in time is left out.
function channelOf(trace, name) {
  const times = [];
  const values = [];
  for (const point of trace) {
    if (!absent(point[name]) && (times.length === 0 || point.s > times[times.length - 1])) {
      times.push(point.s);
      values.push(point[name]);
    }
  }
  return [times, values];
}

const lastOf = (list) => list[list.length - 1];

function mean(channel, low, high) {
  let total = 0;
  let count = 0;
  for (let i = 0; i < channel[0].length; i += 1) {
    if (low <= channel[0][i] && channel[0][i] <= high) {
      total = total + channel[1][i];
      count = count + 1;
    }
  }
  return count === 0 ? null : total / count;
}

// Largest difference within the last window, or between whole-cycle means; null where the trace is too short.
function changeOf(channel, window, cycling) {
  const end = lastOf(channel[0]);
  if (cycling) {
    const newer = mean(channel, end - window, end);
    const older = mean(channel, end - 2 * window, end - window);
    if (newer === null || older === null || !(end - channel[0][0] >= 1.5 * window)) return null;
    return Math.abs(newer - older);
  }
  if (!(end - channel[0][0] >= window)) return null;
  // Points may be sparser than the window: where it began counts as well.
  let lowest = between(channel[0], channel[1], end - window);
  let highest = lowest;
  for (let i = 0; i < channel[0].length; i += 1) {
    if (channel[0][i] >= end - window) {
      if (channel[1][i] < lowest) lowest = channel[1][i];
      if (channel[1][i] > highest) highest = channel[1][i];
    }
  }
  return highest - lowest;
}

// Where a channel is heading if it goes on settling as it has, and the ratio of its last two changes.
export function heading(channel, window) {
  const [times, values] = channel;
  const end = lastOf(times);
  let step = window;
  if ((end - times[0]) / 2 < step) step = (end - times[0]) / 2;
  if (!(step > 0)) return [lastOf(values), 0];
  const oldest = between(times, values, end - 2 * step);
  const middle = between(times, values, end - step);
  const first = middle - oldest;
  const second = lastOf(values) - middle;
  if (first === 0 || !(second / first > 0 && second / first < 0.95)) return [lastOf(values), 0];
  const ratio = second / first;
  return [lastOf(values) + (second * ratio) / (1 - ratio), ratio];
}

// How long until the change within a window is under the limit.
function waitFor(change, limit, ratio, limits) {
  let wait = limits.window_s;
  if (!(ratio > 0 && ratio < 1)) return wait;
  let left = change * ratio;
  while (left >= limit && wait < limits.longest_wait_s) {
    left = left * ratio;
    wait = wait + limits.window_s;
  }
  return wait;
}

export function levelledOf(test, rulebook) {
  const trace = absent(test.trace) ? [] : test.trace;
  const limits = rulebook.checks_at_rest.settling;
  const cycling = partOf(test, "readings").running === "cycling";
  const recirculated = partOf(test, "conditions").air === "recirculated";
  let complete = true;
  let settled = true;
  let wait = 0;
  const vent = channelOf(trace, "vent_c");
  for (const [name, limit, needed] of [
    ["vent_c", limits.vent_k, true],
    ["high_kpa_g", limits.high_share, true],
    ["return_air_c", limits.return_k, recirculated],
  ]) {
    const channel = channelOf(trace, name);
    if (channel[0].length < 2) {
      complete = complete && !needed;
      continue;
    }
    if (!needed) continue;
    const change = changeOf(channel, limits.window_s, cycling);
    const allowed = name === "high_kpa_g" ? limit * Math.abs(lastOf(channel[1])) : limit;
    let longer = 0;
    if (change === null) {
      settled = false;
      longer = limits.window_s - (lastOf(channel[0]) - channel[0][0]);
    } else if (change < allowed) {
      continue;
    } else {
      settled = false;
      longer = waitFor(change, allowed, heading(channel, limits.window_s)[1], limits);
    }
    if (longer > wait) wait = longer;
  }
  if (vent[0].length === 0 || (settled && !complete)) return null;
  return { settled, heading_for: heading(vent, limits.window_s)[0], wait_s: wait };
}
