// The model of `tepal plant` a third time, in JavaScript without a library, from the compiled tables alone.
// `node compiled_twin.mjs tables.json golden.jsonl` prints the largest differences. See docs/compiled-tables.md.
import { readFileSync } from "node:fs";

const FLOOR = 1e-280;
const LEAST_GAIN = 1e-9;
const CANNOT_TELL = "cannot_tell";
const UNKNOWN = "unknown";

const sum = (values) => values.reduce((total, value) => total + value, 0);
const columns = (rows, n) => Array.from({ length: n }, (_, k) => sum(rows.map((row) => row[k])));

// The logarithm of the gamma function from half an integer upwards, by its recurrence and Stirling's series.
function logGamma(x) {
  let shift = 0;
  for (; x < 15; x += 1) shift -= Math.log(x);
  const y = 1 / (x * x);
  const series = (1 / 12 - y * (1 / 360 - y * (1 / 1260 - y * (1 / 1680 - y / 1188)))) / x;
  return shift + (x - 0.5) * Math.log(x) - x + Math.log(2 * Math.PI) / 2 + series;
}

export class Twin {
  constructor(tables) {
    this.t = tables;
    this.names = tables.names;
    this.taxa = tables.names.slice(0, tables.taxa);
    this.set = tables.settings;
    const n = this.set.freedom;
    this.top = logGamma((n + 1) / 2) - logGamma(n / 2) - Math.log(n * Math.PI) / 2;
  }

  rows(name, stage) {
    const origin = this.t.stages[stage].from[name];
    if (origin === undefined) return null;
    const found = this.t.rows[name][origin];
    return typeof found === "string" ? this.t.rows[name][found] : found;
  }

  isOwn(name, stage) {
    return this.t.stages[stage].from[name] === stage;
  }

  // How many of these looks are of the same overlap group.
  alike(name, names) {
    const group = this.t.characters[name].overlap;
    return group ? names.filter((other) => this.t.characters[other].overlap === group).length : 0;
  }

  // By state, by name; null where nothing is told.
  stateLikelihoods(name, stage) {
    const rows = this.rows(name, stage);
    const { states, misread } = this.t.characters[name];
    const size = states.length;
    const base = this.set.base_mass;
    const right = (1 - misread * this.set.misread_scale) * this.set.reliability;
    return states.map((_, at) => {
      const p = this.taxa.map((code) => {
        const row = rows[code];
        return row ? (row[0] * row[1 + at] + base / size) / (row[0] + base) : null;
      });
      const told = p.filter((value) => value !== null);
      for (const [a, b] of this.t.crosses) p.push(p[a] === null || p[b] === null ? null : (p[a] + p[b]) / 2);
      p.push((sum(told) / told.length + 1 / size) / 2);
      return p.map((v) => (v === null ? null : right * v + ((1 - right) * (1 - v)) / (size - 1)));
    });
  }

  density(name, stage, x, leaves) {
    const rows = this.rows(name, stage);
    const cv = this.t.characters[name].reading_cv;
    const leaf = this.set.leaf_correlation;
    const parts = this.taxa.map((code) => rows[code] ?? null);
    const told = parts.filter((part) => part !== null);
    const of = (mean, sd, doubt) =>
      this.student(x, mean, Math.sqrt(sd ** 2 * (leaf + (1 - leaf) / leaves) + doubt ** 2 + (cv * mean) ** 2 / leaves));
    const centre = sum(told.map((part) => part[0])) / told.length;
    const wide = sum(told.map(([mean, sd]) => (mean - centre) ** 2 + sd ** 2)) / told.length;
    const anything = this.student(x, centre, 2 * Math.sqrt(wide));
    const p = parts.map((part) => (part ? of(part[0], part[1], part[1] * part[2]) : null));
    for (const [a, b] of this.t.crosses) {
      const [one, two] = [parts[a], parts[b]];
      if (!one || !two) {
        p.push(null);
        continue;
      }
      const middle = of((one[0] + two[0]) / 2, (one[1] + two[1]) / 2, (one[1] * one[2] + two[1] * two[2]) / 2);
      p.push(middle / 2 + p[a] / 4 + p[b] / 4);
    }
    p.push(anything);
    const r = this.set.reliability;
    return p.map((v) => (v === null ? null : r * v + (1 - r) * anything));
  }

  student(x, mean, scale) {
    const z = (x - mean) / scale;
    const n = this.set.freedom;
    return Math.exp(this.top - Math.log(scale) - ((n + 1) / 2) * Math.log1p((z * z) / n));
  }

  filled(values, prior) {
    const told = values.map((v, k) => [v, prior[k]]).filter(([v]) => v !== null);
    const whole = sum(told.map(([, w]) => w));
    const weight = (w) => (whole > 0 ? w : 1);
    const pooled = sum(told.map(([v, w]) => weight(w) * v)) / sum(told.map(([, w]) => weight(w)));
    return values.map((v) => (v === null ? pooled : v));
  }

  plain(looks) {
    const found = new Map();
    for (const [name, given] of Object.entries(looks)) {
      const answers = (Array.isArray(given) ? given : [given]).filter((answer) => answer !== CANNOT_TELL);
      if (!answers.length) continue;
      const distinct = [...new Set(answers)];
      const share = (state) => answers.filter((answer) => answer === state).length / answers.length;
      const pairs = this.t.characters[name].states ? distinct.map((state) => [state, share(state)]) : null;
      found.set(name, { pairs, leaves: distinct.length, value: pairs ? NaN : sum(distinct) / distinct.length });
    }
    return found;
  }

  logEvidence(plain, stage, prior) {
    const counts = [...plain.keys()].filter(
      (name) => this.rows(name, stage) && !plain.has(this.t.characters[name].binned_from)
    );
    const total = this.names.map(() => 0);
    for (const name of counts) {
      const { pairs, leaves, value } = plain.get(name);
      const others = Math.max(this.alike(name, counts) - 1, 0);
      let weight = this.t.stages[stage].temper / (1 + others * this.set.overlap_correlation);
      if (!this.isOwn(name, stage)) weight *= this.set.borrowed_weight;
      if (pairs) weight *= leaves / (1 + (leaves - 1) * this.set.leaf_correlation);
      const byState = pairs ? this.stateLikelihoods(name, stage) : null;
      const parts = pairs
        ? pairs.map(([state, share]) => [share, byState[this.t.characters[name].states.indexOf(state)]])
        : [[1, this.density(name, stage, value, leaves)]];
      for (const [share, likelihood] of parts) {
        const raised = likelihood.map((v) => (v === null ? null : v ** weight));
        this.filled(raised, prior).forEach((v, k) => (total[k] += share * Math.log(Math.max(v, FLOOR))));
      }
    }
    return total;
  }

  posterior(looks, stage, region) {
    const plain = this.plain(looks);
    const stages = stage === UNKNOWN ? Object.keys(this.t.stages) : [stage];
    const logs = stages.map((at) => {
      const prior = this.t.stages[at].priors[region ?? ""];
      const strays = stage === UNKNOWN ? [...plain.keys()].filter((name) => !this.isOwn(name, at)).length : 0;
      const stray = strays * Math.log(this.set.stage_misfit);
      return this.logEvidence(plain, at, prior).map((e, k) => Math.log(prior[k]) + e + stray);
    });
    const top = Math.max(...logs.flat());
    const weights = logs.map((row) => row.map((v) => Math.exp(v - top)));
    const whole = sum(weights.flat());
    const byStage = weights.map((row) => Math.round((sum(row) / whole) * 1e9));
    const middle = Math.floor(stages.length / 2);
    const order = stages.map((_, at) => at).sort((a, b) => Math.abs(a - middle) - Math.abs(b - middle) || a - b);
    const lead = order.reduce((best, at) => (byStage[at] > byStage[best] ? at : best));
    return [columns(weights, this.names.length).map((v) => v / whole), stages[lead]];
  }

  value(p, loss) {
    const risks = loss.map((row) => sum(row.map((cost, k) => cost * p[k])));
    const drawn = sum(risks.map((risk, k) => risk * p[k]));
    const h = this.set.drawn_share;
    const doubt = -sum(p.map((q) => (q > 0 ? q * Math.log(q) : 0)));
    return (1 - h) * Math.min(...risks.slice(0, this.t.taxa), this.t.costs.sample) + h * drawn + this.t.costs.doubt * doubt;
  }

  outcomes(name, stage, prior) {
    let likelihoods;
    if (this.t.characters[name].states) {
      likelihoods = this.stateLikelihoods(name, stage);
    } else {
      const reach = Object.values(this.rows(name, stage)).map(([mean, sd, q]) => [mean, 3 * Math.sqrt(sd ** 2 + (sd * q) ** 2)]);
      const low = Math.max(Math.min(...reach.map(([mean, far]) => mean - far)), 0);
      const high = Math.max(...reach.map(([mean, far]) => mean + far));
      const n = this.set.nodes;
      likelihoods = Array.from({ length: n }, (_, i) => this.density(name, stage, low + ((high - low) * i) / (n - 1), 1));
    }
    const full = likelihoods.map((row) => this.filled(row, prior));
    const sums = columns(full, this.names.length);
    return [full.map((row) => row.map((v, k) => v / sums[k])), likelihoods[0].map((v) => v !== null)];
  }

  absent(name, looks) {
    return Object.entries(this.t.characters[name].absent_where ?? {}).some(([other, states]) => {
      const answers = new Set([looks[other] ?? []].flat().filter((a) => a !== "cannot_tell"));
      return answers.size === 1 && states.includes([...answers][0]);
    });
  }

  nextLooks(p, looks, stage, region) {
    const told = this.t.stages[stage];
    const prior = told.priors[region ?? ""];
    const asked = Object.keys(looks);
    const coarse = new Set(asked.map((name) => this.t.characters[name].binned_from));
    const now = this.value(p, told.loss);
    const found = [];
    told.asked.forEach((name, order) => {
      if (asked.includes(name) || coarse.has(name) || asked.includes(this.t.characters[name].binned_from)) return;
      if (this.absent(name, looks)) return;
      const weight = told.temper / (1 + this.alike(name, asked) * this.set.overlap_correlation);
      const [rows, known] = this.outcomes(name, stage, prior);
      const raised = rows.map((row) => row.map((v) => Math.exp(weight * Math.log(Math.max(v, FLOOR)))));
      const sums = columns(raised, p.length);
      let after = 0;
      for (const row of raised) {
        const joint = row.map((v, k) => (v / sums[k]) * p[k]);
        const mass = sum(joint);
        if (mass > FLOOR) after += mass * this.value(joint.map((v) => v / mass), told.loss);
      }
      const gain = (now - after) * sum(p.filter((_, k) => known[k]));
      const seconds = this.t.characters[name].seconds + this.set.asking_seconds;
      if (gain > 0) found.push({ name, gain, seconds, order });
    });
    found.sort((a, b) => b.gain / b.seconds - a.gain / a.seconds || a.order - b.order);
    return [found, found.every(({ gain, seconds }) => gain <= this.t.costs.second * seconds)];
  }
}

const [, , tables, cases] = process.argv;
const twin = new Twin(JSON.parse(readFileSync(tables, "utf8")));
const worst = { cases: 0, posterior: 0, gain: 0, next: 0, enough: 0 };
for (const line of readFileSync(cases, "utf8").trim().split("\n")) {
  const wanted = JSON.parse(line);
  const [p, stage] = twin.posterior(wanted.looks, wanted.stage, wanted.region);
  const [following, enough] = twin.nextLooks(p, wanted.looks, stage, wanted.region);
  const kept = following.filter(({ gain }) => gain > LEAST_GAIN);
  worst.cases += 1;
  worst.posterior = Math.max(worst.posterior, ...p.map((v, k) => Math.abs(v - wanted.posterior[k])));
  if (kept.map(({ name }) => name).join() !== wanted.next.join()) worst.next += 1;
  else worst.gain = Math.max(worst.gain, ...kept.map(({ gain }, at) => Math.abs(gain - wanted.gain[at])));
  if (enough !== wanted.enough) worst.enough += 1;
}
console.log(JSON.stringify(worst));
