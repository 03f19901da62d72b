// The JSON Schema of a study, asked what may stand where.

/**
 * A piece of the schema with its references followed. `dimension` names what a quantity or number is of; `dispersed`
 * tells whether it may have a law.
 * @typedef {Record<string, any> & {dimension?: string, dispersed?: boolean}} Piece
 */

/** @typedef {string|number} Step */

const DEFINITION = /^#\/\$defs\/(quantity|number)_of_(.+)$/;
/** What a text that names a part of the study names, by the key it stands under. */
const NAMES = new Map(
  Object.entries({
    engine: "engines", tank: "tanks", from: "tanks", to: "tanks", fill: "tanks", element: "elements",
    lifted: "elements", after: "legs", burn_time: "legs", loss: "legs", deceleration: "legs", heat_load: "legs",
    peak_heating: "legs", flights: "legs", between: "numbers",
  }),
);

/** What a study may say, from its schema. */
export class Schema {
  /** @param {any} document */
  constructor(document) {
    this.root = document;
    this.definitions = document.$defs ?? {};
    /** Laws by what a number is of: they are asked for again and again. @type {Map<string, Piece[]>} */
    this.known = new Map();
  }

  /**
   * Follow a piece's references; what it says beside one wins.
   * @param {any} piece
   * @returns {Piece}
   */
  resolved(piece) {
    let made = piece;
    while (made?.$ref !== undefined) {
      const { $ref, ...beside } = made;
      const found = DEFINITION.exec($ref);
      const named = found === null ? {} : { dimension: found[2].replaceAll("_", " "), dispersed: found[1] === "number" };
      made = { ...this.definitions[$ref.slice("#/$defs/".length)], ...named, ...beside };
    }
    return made ?? {};
  }

  /**
   * List the shapes that a piece may take, without the one that stands for leaving it out.
   * @param {Piece} piece
   * @returns {Piece[]}
   */
  shapes(piece) {
    const whole = this.resolved(piece);
    const parts = whole.dimension === undefined ? (whole.anyOf ?? whole.oneOf) : undefined;
    if (parts === undefined) return [whole];
    const { anyOf: _any, oneOf: _one, ...beside } = whole;
    const shapes = parts.flatMap((/** @type {any} */ part) => this.shapes(part)).filter((/** @type {Piece} */ one) => one.type !== "null");
    return shapes.length === 1 ? [{ ...shapes[0], ...beside, type: shapes[0].type }] : shapes;
  }

  /**
   * Find the shape that a value has, or comes nearest to.
   * @param {Piece[]} shapes
   * @param {any} value
   * @returns {number} its position
   */
  shapeOf(shapes, value) {
    const fits = shapes.map((shape) => this.fit(shape, shapes, value));
    const best = Math.max(...fits);
    return best <= 0 ? 0 : fits.indexOf(best);
  }

  /**
   * List the ways a number may be written: fixed first, then each law.
   * @param {Piece} number
   * @returns {Piece[]}
   */
  laws(number) {
    const whole = this.resolved(number);
    const known = this.known.get(whole.dimension ?? "");
    if (known !== undefined) return known;
    const laws = (whole.anyOf ?? []).map((/** @type {any} */ one) => this.resolved(one));
    if (whole.dimension !== undefined && whole.dispersed) this.known.set(whole.dimension, laws);
    return laws;
  }

  /**
   * Find the law that a value is written with.
   * @param {Piece} number
   * @param {any} value
   * @returns {number} its position in `laws`; 0 where it is fixed
   */
  lawOf(number, value) {
    if (!isRecord(value)) return 0;
    const fits = this.laws(number).map((law) => lawFit(law, value));
    return Math.max(1, fits.indexOf(Math.max(...fits)));
  }

  /**
   * Go down from the top to what may stand at a path, led by what stands there.
   * @param {Step[]} path
   * @param {any} tree the study as written
   * @returns {Piece|null} null where the schema knows no such place
   */
  at(path, tree) {
    let piece = this.chosen(this.root, tree);
    let value = tree;
    for (const step of path) {
      const inside = this.inside(piece, step, value);
      if (inside === null) return null;
      value = value?.[step];
      piece = this.chosen(inside, value);
    }
    return piece;
  }

  /**
   * Pick the shape of a piece that a value has; a number's laws count as shapes once it is written as one.
   * @param {any} piece
   * @param {any} value
   * @returns {Piece}
   */
  chosen(piece, value) {
    const shapes = this.shapes(piece);
    const shape = shapes[this.shapeOf(shapes, value)];
    if (!shape.dispersed || !isRecord(value)) return shape;
    return this.laws(shape)[this.lawOf(shape, value)];
  }

  /**
   * List what may stand under a piece, by key: of every shape that a value may still become.
   * @param {any} piece
   * @param {any} value
   * @returns {Map<string, Piece>}
   */
  keys(piece, value) {
    const shapes = this.shapes(piece).flatMap((shape) => (shape.dispersed ? this.laws(shape).slice(1) : [shape]));
    const given = isRecord(value) ? Object.keys(value) : [];
    const fitting = shapes.filter((shape) => given.every((key) => shape.properties?.[key] !== undefined));
    const possible = given.length > 0 && fitting.length > 0 ? fitting : shapes;
    const found = possible.flatMap((shape) => Object.entries(shape.properties ?? {}));
    return new Map(found.reverse().map(([key, one]) => [key, this.resolved(one)]));
  }

  /**
   * @param {Piece} piece
   * @param {Step} step
   * @param {any} value
   * @returns {any}
   */
  inside(piece, step, value) {
    if (typeof step === "number") return piece.prefixItems?.[step] ?? piece.items ?? null;
    const own = piece.properties?.[step];
    if (own !== undefined) return own;
    if (typeof piece.additionalProperties === "object") return piece.additionalProperties;
    return this.keys(piece, value).get(step) ?? null;
  }

  /**
   * Say how well a shape fits a value; not at all below 0.
   * @param {Piece} shape
   * @param {Piece[]} among
   * @param {any} value
   */
  fit(shape, among, value) {
    if (value === undefined || value === null) return 0;
    if (Array.isArray(value)) return shape.type === "array" ? 1 : -1;
    if (!isRecord(value)) return shape.dimension !== undefined ? 2 : scalarFit(shape, value);
    if (shape.dispersed) return Math.max(...this.laws(shape).slice(1).map((law) => lawFit(law, value)));
    if (shape.properties === undefined) return typeof shape.additionalProperties === "object" ? 0.5 : -1;
    const kind = kindKey(shape, among);
    return lawFit(shape, value) + (kind !== null && kind in value ? 20 : 0);
  }
}

/**
 * Name the key that tells one shape from the others, such as `burn` among legs.
 * @param {Piece} shape
 * @param {Piece[]} among
 * @returns {string|null}
 */
export function kindKey(shape, among) {
  const others = among.filter((one) => one !== shape);
  const own = (shape.required ?? []).filter((/** @type {string} */ key) => !others.some((one) => key in (one.properties ?? {})));
  const leg = own.find((/** @type {string} */ key) => shape.properties[key].description === "The leg's name.");
  return leg ?? own[0] ?? shape.required?.find((/** @type {string} */ key) => shape.properties[key]) ?? null;
}

/**
 * List the values that may stand under a key: words of the schema, or names of the study's own parts.
 * @param {Piece} piece
 * @param {string} key
 * @param {any} tree
 * @param {Schema} schema
 * @returns {string[]}
 */
export function valuesFor(piece, key, tree, schema) {
  const shapes = schema.shapes(piece);
  const words = shapes.flatMap((shape) => shape.enum ?? (shape.const === undefined ? [] : [shape.const]));
  const fixed = words.map(String);
  const listed = shapes.some((shape) => shape.items !== undefined || shape.type === "string");
  return listed ? [...fixed, ...namesOf(tree, NAMES.get(key) ?? kindOfExample(piece))] : fixed;
}

/**
 * List the names of a study's parts of a kind.
 * @param {any} tree
 * @param {string|undefined} kind
 * @returns {string[]}
 */
export function namesOf(tree, kind) {
  const elements = Object.entries(isRecord(tree?.vehicle) ? tree.vehicle : {});
  const inside = (/** @type {string} */ part) =>
    elements.flatMap(([name, one]) => Object.keys(isRecord(one?.[part]) ? one[part] : {}).map((each) => `${name}.${each}`));
  if (kind === "engines" || kind === "tanks") return inside(kind);
  if (kind === "elements") return elements.map(([name]) => name);
  if (kind === "numbers") return placesOf(tree);
  if (kind === "legs") return (Array.isArray(tree?.legs) ? tree.legs : []).map(legName).filter((/** @type {string} */ name) => name !== "");
  return [];
}

const LEG_KINDS = ["load", "burn", "coast", "drop", "dock", "undock", "transfer", "refuel", "entry"];

/**
 * Name a leg as it is written.
 * @param {any} leg
 * @returns {string} empty where it has none
 */
export function legName(leg) {
  const kind = isRecord(leg) ? LEG_KINDS.find((each) => typeof leg[each] === "string") : undefined;
  return kind === undefined ? "" : leg[kind];
}

/**
 * List the places of a study's numbers, as options and correlations name them: a leg by its name.
 * @param {any} tree
 * @returns {string[]}
 */
export function placesOf(tree) {
  return ["vehicle", "legs", "requirements"].flatMap((part) => [...numbersIn(tree?.[part], part)]);
}

/**
 * Read what stands at a place.
 * @param {any} tree
 * @param {string} place
 * @returns {any}
 */
export function atPlace(tree, place) {
  return [...walked(tree?.[place.split(".")[0]], place.split(".")[0])].find(([one]) => one === place)?.[1];
}

/**
 * @param {any} value
 * @param {string} place
 * @returns {Generator<string>}
 */
function* numbersIn(value, place) {
  for (const [inside, one] of walked(value, place)) {
    const law = isRecord(one) && Object.keys(one).some((key) => LAW_KEYS.has(key));
    if (law || typeof one === "number" || (typeof one === "string" && /^[+-]?[.\d]/.test(one))) yield inside;
  }
}

/**
 * @param {any} value
 * @param {string} place
 * @returns {Generator<[string, any]>}
 */
function* walked(value, place) {
  const inside = Array.isArray(value) ? value.map((one) => [legName(one), one]) : isRecord(value) ? Object.entries(value) : [];
  for (const [key, one] of inside) {
    if (key === "") continue;
    yield [`${place}.${key}`, one];
    if (!isRecord(one) || !Object.keys(one).some((name) => LAW_KEYS.has(name))) yield* walked(one, `${place}.${key}`);
  }
}

const LAW_KEYS = new Set(["mean", "median", "low", "likely", "values", "practice", "law"]);

/**
 * @param {any} value
 * @returns {value is Record<string, any>}
 */
export function isRecord(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/** @param {Piece} piece */
function kindOfExample(piece) {
  return /as element\.engine/.test(piece.description ?? "") ? "engines" : /as element\.tank/.test(piece.description ?? "") ? "tanks" : undefined;
}

/**
 * @param {Piece} shape
 * @param {any} value
 */
function scalarFit(shape, value) {
  if (shape.enum !== undefined) return shape.enum.includes(value) ? 3 : -1;
  if (shape.type === "string") return typeof value === "string" ? 1 : 0.5;
  if (shape.type === "integer" || shape.type === "number") return typeof value === "number" ? 1 : 0.5;
  if (shape.type === "boolean") return typeof value === "boolean" ? 1 : 0.5;
  return -1;
}

/**
 * @param {Piece} shape
 * @param {Record<string, any>} value
 */
function lawFit(shape, value) {
  if (shape.properties === undefined) return -1;
  const keys = Object.keys(value);
  const known = keys.filter((key) => shape.properties[key] !== undefined && constFits(shape.properties[key], value[key]));
  const missing = (shape.required ?? []).filter((/** @type {string} */ key) => !(key in value));
  return 1 + 2 * known.length - 3 * (keys.length - known.length) - 0.4 * missing.length;
}

/**
 * @param {any} piece
 * @param {any} value
 */
function constFits(piece, value) {
  if (piece.const !== undefined) return piece.const === value;
  return piece.enum === undefined || typeof value !== "string" || piece.enum.includes(value);
}
