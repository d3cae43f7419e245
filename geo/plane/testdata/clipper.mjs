// Missed and double-worked ground by Clipper2 (npm package clipper2-wasm), for clipper_test.go: rings as JSON on the standard input,
// the first the field, the others passes, counter-clockwise, x and y by turns in metres; areas in m² and seconds of processor on the standard output.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const clipper = await createRequire(`${process.cwd()}/`)('clipper2-wasm/dist/umd/clipper2z.js')();
const { FillRule: { Positive }, PathsD, MakePathD, DifferenceD, IntersectD, UnionSelfD, AreaPathsD } = clipper;
const decimals = 4;

const [field, ...passes] = JSON.parse(readFileSync(0, 'utf8'));
const paths = (...rings) => {
	const all = new PathsD();
	for (const ring of rings) {
		const path = MakePathD(ring);
		all.push_back(path);
		path.delete();
	}
	return all;
};
let low = Infinity, high = -Infinity;
for (const ring of [field, ...passes]) for (const c of ring) { low = Math.min(low, c - 1); high = Math.max(high, c + 1); }
// A clockwise ring around everything takes one from each count: what is above nothing then was worked twice or more.
const around = [low, low, low, high, high, high, high, low];
const ground = paths(field), worked = paths(...passes), less = paths(around, ...passes);

const start = process.cpuUsage();
const missed = DifferenceD(ground, worked, Positive, decimals);
const twice = UnionSelfD(less, Positive, decimals);
const double = IntersectD(twice, ground, Positive, decimals);
const { user, system } = process.cpuUsage(start);
console.log(JSON.stringify({ missed: AreaPathsD(missed), double: AreaPathsD(double), seconds: (user + system) / 1e6 }));
