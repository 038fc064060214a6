/** A site as lines: its boundary, gates, section lines, the track, the stops, where you are. No tiles: nothing is fetched. */
import * as L from "leaflet";
import { useEffect, useRef } from "preact/hooks";
import type { Entry, Point, StopBody } from "../store";
import type { Site } from "../sync";
import { isUs, t } from "../words";
import type { Here } from "./place";

interface MapProps {
  sites: Site[];
  track?: Point[][];
  stops?: Entry<"stop">[];
  here?: Here | undefined;
  aerial?: { blob: Blob; bounds: [number, number, number, number] } | undefined;
  onTap?: (at: Point) => unknown;
  /** A place that somebody tapped. */
  mark?: Point | undefined;
  label: string;
}

/** How far it is on the map, in the person's own words: the library's control knows only English ones. */
const Scale = L.Control.Scale.extend({
  _updateScale(this: { options: { maxWidth: number } }, line: HTMLElement, text: string, share: number) {
    const [n = "", unit = ""] = text.split(" ");
    line.style.width = `${Math.round(this.options.maxWidth * share)}px`;
    line.textContent = { ft: t("{n} ft", { n }), mi: t("{n} mi", { n }), m: t("{n} m", { n }), km: t("{n} km", { n }) }[unit] ?? text;
  },
}) as unknown as typeof L.Control.Scale;

/** What stands there, where nobody gave it a name. */
const feature = (kind: string | undefined): string =>
  ({ gate: t("Gate"), entry: t("Way in"), waterway: t("Waterway"), edge: t("Edge"), yard: t("Yard") })[kind ?? ""] ?? "";

const flip = ([lon, lat]: Point): L.LatLngTuple => [lat, lon];

function word(text: string, kind: string): L.DivIcon {
  // An element, not markup: a name of a farm is never read as HTML.
  const span = document.createElement("span");
  span.textContent = text;
  return L.divIcon({ className: `on-map ${kind}`, html: span, iconSize: [0, 0] });
}

export const counted = (body: StopBody): number => body.counts.reduce((sum, tally) => sum + tally.count, 0);

export function SiteMap(props: MapProps) {
  const box = useRef<HTMLDivElement>(null);
  const map = useRef<L.Map | undefined>(undefined);
  const drawn = useRef<L.LayerGroup | undefined>(undefined);
  const fitted = useRef("");
  const fitting = useRef(false);
  /** A person who has moved the map wants to see what they moved it to. */
  const moved = useRef(false);
  const tap = useRef(props.onTap);
  tap.current = props.onTap;

  useEffect(() => {
    const made = L.map(box.current!, { attributionControl: false, zoomSnap: 0.5, zoomControl: false, maxZoom: 21 });
    L.control.zoom({ position: "topleft", zoomInTitle: t("Closer"), zoomOutTitle: t("Farther") }).addTo(made);
    new Scale({ imperial: isUs(), metric: !isUs() }).addTo(made);
    made.on("dragstart zoomstart", () => (moved.current ||= !fitting.current));
    made.on("click", (event) => tap.current?.([event.latlng.lng, event.latlng.lat]));
    map.current = made;
    drawn.current = L.layerGroup().addTo(made);
    return () => {
      made.remove();
    };
  }, []);

  useEffect(() => {
    const layers = drawn.current!;
    layers.clearLayers();
    const area = L.latLngBounds([]);
    let url: string | undefined;
    if (props.aerial) {
      const [w, s, e, n] = props.aerial.bounds;
      url = URL.createObjectURL(props.aerial.blob);
      L.imageOverlay(url, [[s, w], [n, e]], { alt: t("Picture from the air") }).addTo(layers);
    }
    for (const site of props.sites) {
      if (site.boundary) {
        const shape = L.geoJSON(site.boundary, { style: { className: "boundary" }, interactive: false }).addTo(layers);
        area.extend(shape.getBounds());
      } else if (site.point) {
        L.marker(flip(site.point), { icon: word(site.name, "place"), interactive: false, keyboard: false }).addTo(layers);
        area.extend(flip(site.point));
      }
      if (site.features)
        L.geoJSON(site.features, {
          style: { className: "feature" },
          interactive: false,
          pointToLayer: (point, at) => {
            const { name, kind } = (point.properties ?? {}) as { name?: string | null; kind?: string };
            return L.marker(at, { icon: word(name || feature(kind), "gate"), interactive: false, keyboard: false });
          },
        }).addTo(layers);
    }
    for (const line of props.track ?? []) {
      L.polyline(line.map(flip), { className: "track", interactive: false }).addTo(layers);
      for (const at of line) area.extend(flip(at));
    }
    (props.stops ?? []).forEach((stop) => {
      if (!stop.body.at) return;
      L.marker(flip(stop.body.at), { icon: word(String(counted(stop.body)), "stop"), interactive: false, keyboard: false }).addTo(layers);
      area.extend(flip(stop.body.at));
    });
    if (props.mark) {
      L.circleMarker(flip(props.mark), { className: "mark", radius: 9, interactive: false }).addTo(layers);
      area.extend(flip(props.mark));
    }
    if (props.here) {
      L.circle(flip(props.here.at), { className: "doubt", radius: 2 * props.here.error_m, interactive: false }).addTo(layers);
      L.circleMarker(flip(props.here.at), { className: "here", radius: 6, interactive: false }).addTo(layers);
      area.extend(flip(props.here.at));
    }
    const shown = `${props.sites.map((site) => site.id).join()} ${props.here !== undefined}`;
    fitting.current = true;
    if (area.isValid() && !moved.current && fitted.current !== shown) {
      map.current!.fitBounds(area.pad(0.15), { animate: false, maxZoom: 18 });
      fitted.current = shown;
    } else if (fitted.current === "") map.current!.setView([39.5, -98.35], 4, { animate: false });
    fitting.current = false;
    return () => {
      if (url) URL.revokeObjectURL(url);
    };
  }, [props.sites, props.track, props.stops, props.here?.t, props.aerial, props.mark]);

  return <div class="map" ref={box} role="group" aria-label={props.label} />;
}
