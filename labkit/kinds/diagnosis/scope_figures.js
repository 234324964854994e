// What is read off the scope's picture, as numbers and as text.

const NICE = [1, 2, 5, 10];

/** Round places of an axis, about `count` of them. @param {number} low @param {number} high @param {number} count */
export function axisTicks(low, high, count) {
  const rough = (high - low) / count;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = (NICE.find((each) => each * power >= rough * 0.999) ?? 10) * power;
  const first = Math.ceil(low / step - 1e-9);
  const last = Math.floor(high / step + 1e-9);
  return Array.from({ length: last - first + 1 }, (_, k) => +((first + k) * step).toPrecision(12));
}

/** A time or a voltage: four figures, and no more than two places. @param {number} value */
export function figure(value) {
  const size = Math.abs(value);
  return (size < 0.005 ? 0 : value).toFixed(size < 99.995 ? 2 : size < 999.95 ? 1 : 0).replace("-", "−");
}

/** A bit as it is written; a dash where nobody drives the pair. @param {number | null} level */
export const bitText = (level) => (level === null ? "–" : level ? "1" : "0");

/** The bit rate at which a bit takes so long: 1 over the time of a bit (ISO 11898-1). @param {number} us */
export function rateText(us) {
  if (Math.abs(us) < 1e-6) return "–";
  return `${+(1000 / Math.abs(us)).toPrecision(4)} kbit/s`;
}

/** The sample next to a time. @param {number[]} times @param {number[]} volts @param {number} us */
export function voltAt(times, volts, us) {
  const spacing = times[times.length - 1] / (times.length - 1);
  const at = Math.min(Math.max(Math.round(us / spacing), 0), times.length - 1);
  return volts[at];
}
