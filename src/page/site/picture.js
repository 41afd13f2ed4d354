// The picture of a chord: the neck upright, the nut on top, string 6 on the left, or on the right for the left-handed.

import * as words from "../../words/site.mjs";

const SVG = "http://www.w3.org/2000/svg";
const SHOWN = 4;

function put(parent, name, attributes, text) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== undefined) element.textContent = text;
  parent.append(element);
  return element;
}

/** Draws a voicing as the core tells it. */
export function picture(voicing, left) {
  const held = voicing.at.filter((fret) => fret > 0);
  const highest = Math.max(0, ...held);
  const first = highest > SHOWN ? Math.min(...held) : 1;
  const count = Math.max(SHOWN, highest - first + 1);
  const [step, row, top, side] = [24, 30, 34, 38];
  const x = (index) => side + step * (left ? 5 - index : index);
  const y = (fret) => top + row * (fret - first + 0.5);
  const [width, height] = [side + 5 * step + 13, top + row * count + 8];
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("class", "chord");
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", inWords(voicing));
  const ink = { stroke: "currentColor", "stroke-width": 1.5, fill: "none" };
  for (let index = 0; index < 6; index++) {
    put(svg, "line", { x1: x(index), x2: x(index), y1: top, y2: top + row * count, ...ink });
    const fret = voicing.at[index];
    const mark = fret === null ? "x" : fret === 0 ? "o" : "";
    put(svg, "text", { x: x(index), y: top - 10, "font-size": 20, "text-anchor": "middle", fill: "currentColor" }, mark);
  }
  for (let wire = 0; wire <= count; wire++) {
    const thick = wire === 0 && first === 1 ? 5 : 1.5;
    put(svg, "line", { x1: side, x2: side + 5 * step, y1: top + row * wire, y2: top + row * wire, ...ink, "stroke-width": thick });
  }
  put(svg, "text", { x: 24, y: y(first) + 7, "font-size": 20, "text-anchor": "end", fill: "currentColor" }, String(first));
  for (const barre of voicing.barres) {
    const ends = [x(6 - barre.from_string), x(6 - barre.to_string)];
    put(svg, "line", { x1: ends[0], x2: ends[1], y1: y(barre.fret), y2: y(barre.fret), stroke: "currentColor", "stroke-width": 8, "stroke-linecap": "round" });
  }
  voicing.at.forEach((fret, index) => {
    if (!fret) return;
    put(svg, "circle", { cx: x(index), cy: y(fret), r: 11.5, fill: "currentColor" });
    const finger = voicing.fingers[index];
    if (finger) {
      put(svg, "text", { x: x(index), y: y(fret) + 7, "font-size": 20, "text-anchor": "middle", class: "finger" }, String(finger));
    }
  });
  return svg;
}

/** The same in words. */
function inWords(voicing) {
  const strings = voicing.at.map((fret, index) => {
    const where = fret === null ? words.notPlayed : fret === 0 ? words.open : words.held(fret, voicing.fingers[index]);
    return [6 - index, where];
  });
  return words.voicing(voicing.chord, voicing.frets, strings);
}
