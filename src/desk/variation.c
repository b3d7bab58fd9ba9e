/* Changes to an engine: read, made, and said. What each is made to is the table below; how, the header. */
#include "desk/variation.h"
#include "base/as_pointer.h"
#include "base/language.h"
#include "base/error.h"
#include "base/number.h"
#include "base/suggest.h"
#include "base/words.h"
#include "gas/standard_atmosphere.h"
#include <math.h>
#include <string.h>

#define NO_FIGURE EW_KINDS_COUNT /* it can be changed, and has no figure of its own to be set */

/* What may be varied: name, kind of the figure, kind of a change of it, help that ends with an example. */
#define VARIATIONS(X)                                                                              \
  X(COMPRESSION, "compression", EW_KIND_NUMBER, EW_KIND_NUMBER,                                    \
    EW_TEXT("ratio of every cylinder, +0.5"))                                                      \
  X(CAM_ADVANCE, "cam_advance", NO_FIGURE, EW_KIND_ANGLE, EW_TEXT("both cams earlier, +4 deg"))    \
  X(INLET_CENTRELINE, "inlet_centreline", EW_KIND_ANGLE, EW_KIND_ANGLE,                            \
    EW_TEXT("inlet lobe later, +4 deg"))                                                           \
  X(EXHAUST_CENTRELINE, "exhaust_centreline", EW_KIND_ANGLE, EW_KIND_ANGLE,                        \
    EW_TEXT("exhaust lobe earlier, +4 deg"))                                                       \
  X(RUNNER_LENGTH, "runner_length", EW_KIND_LENGTH, EW_KIND_LENGTH,                                \
    EW_TEXT("inlet runner longer, +50 mm"))                                                        \
  X(RUNNER_DIAMETER, "runner_diameter", EW_KIND_LENGTH, EW_KIND_LENGTH,                            \
    EW_TEXT("inlet runner wider, +2 mm"))                                                          \
  X(PRIMARY_LENGTH, "primary_length", EW_KIND_LENGTH, EW_KIND_LENGTH,                              \
    EW_TEXT("exhaust primary longer, +100 mm"))                                                    \
  X(PRIMARY_DIAMETER, "primary_diameter", EW_KIND_LENGTH, EW_KIND_LENGTH,                          \
    EW_TEXT("exhaust primary wider, +2 mm"))                                                       \
  X(SPARK, "spark", EW_KIND_ANGLE, EW_KIND_ANGLE, EW_TEXT("more advance than given, +2 deg"))      \
  X(LAMBDA, "lambda", EW_KIND_LAMBDA, EW_KIND_LAMBDA, EW_TEXT("leaner, +0.02"))                    \
  X(OCTANE, "octane", EW_KIND_NUMBER, EW_KIND_NUMBER,                                              \
    EW_TEXT("octane number of the knock integral, +3"))                                            \
  X(PORT_FLOW, "port_flow", EW_KIND_NUMBER, EW_KIND_NUMBER,                                        \
    EW_TEXT("flow of all ports and valves, as a factor, +5 %"))                                    \
  X(ALTITUDE, "altitude", EW_KIND_LENGTH, EW_KIND_LENGTH,                                          \
    EW_TEXT("cell at a higher altitude, colder by 6.5 K a km, +500 m"))                            \
  X(AIR_TEMPERATURE, "air_temperature", EW_KIND_TEMPERATURE, EW_KIND_TEMPERATURE_DIFFERENCE,       \
    EW_TEXT("warmer inlet air, +10 K"))

enum vary {
#define X(id, name, set, by, help) VARY_##id,
  VARIATIONS(X)
#undef X
      VARY_COUNT
};
const char *const ew_variation_names[] = {
#define X(id, name, set, by, help) name,
    VARIATIONS(X)
#undef X
        NULL};
static const struct {
  enum ew_kind set, by;
  const char *help;
} facts[] = {
#define X(id, name, set, by, help) {set, by, help},
    VARIATIONS(X)
#undef X
};

/* ---- any figure of the engine's file: numbered behind the table above ---- */

struct place { /* a field, and where its record is in struct ew_engine */
  const struct ew_field *field;
  gsize record;
  const char *group; /* NULL: at the top */
};

/* The n-th field of the file. FALSE when there are not so many. O of the fields, some two hundred. */
static gboolean place_of(int n, struct place *at) {
  const struct ew_fields *top = &ew_engine_fields;
  if (n < (int)top->count) {
    *at = (struct place){&top->fields[n], 0, NULL};
    return n >= 0;
  }
  n -= (int)top->count;
  for (gsize g = 0; g < ew_engine_groups_count; n -= (int)ew_engine_groups[g++].fields->count)
    if (n < (int)ew_engine_groups[g].fields->count) {
      *at = (struct place){&ew_engine_groups[g].fields->fields[n], ew_engine_groups[g].offset,
                           ew_engine_groups[g].key};
      return TRUE;
    }
  return FALSE;
}

static char *name_of(int what) {
  struct place at;
  if (what < VARY_COUNT)
    return g_strdup(ew_variation_names[what]);
  gboolean is_there = place_of(what - VARY_COUNT, &at);
  g_assert(is_there);
  return at.group ? g_strdup_printf("%s.%s", at.group, at.field->name) : g_strdup(at.field->name);
}

static enum ew_kind set_of(int what) {
  struct place at;
  if (what < VARY_COUNT)
    return facts[what].set;
  gboolean is_there = place_of(what - VARY_COUNT, &at);
  g_assert(is_there);
  return at.field->kind;
}

static enum ew_kind by_of(int what) {
  enum ew_kind set = set_of(what);
  return what < VARY_COUNT            ? facts[what].by
         : set == EW_KIND_TEMPERATURE ? EW_KIND_TEMPERATURE_DIFFERENCE
                                      : set;
}

/* "bore", "breathing.plenum": its number, or -1 when it is not a figure of the file. */
static int field_named(const char *name) {
  struct place at;
  for (int n = 0; place_of(n, &at); n++) {
    g_autofree char *own = name_of(VARY_COUNT + n);
    if (at.field->type == EW_FIELD_QUANTITY && strcmp(own, name) == 0)
      return VARY_COUNT + n;
  }
  return -1;
}

gboolean ew_variation_is_field(const struct ew_variation *v) {
  return v->what >= VARY_COUNT;
}

static double *figure_at(const struct ew_varying *at, int what, struct place *place) {
  gboolean is_there = place_of(what - VARY_COUNT, place);
  g_assert(at->engine && is_there);
  return (double *)(void *)((char *)at->engine + place->record + place->field->offset);
}

const char *ew_variation_help(int what) {
  g_assert(what >= 0 && what < VARY_COUNT);
  return facts[what].help;
}

double ew_adjusted(struct ew_adjustment change, double from) {
  switch (change.how) {
  case EW_ADJUST_SET: return change.figure;
  case EW_ADJUST_BY: return from + change.figure;
  case EW_ADJUST_SCALE: return from * change.figure;
  }
  return NAN;
}

/* "+5 %", "-5 %", "95 %" */
static gboolean parse_scale(const char *field, const char *text, struct ew_adjustment *change,
                            GError **error) {
  double share;
  gboolean sign = *text == '+' || *text == '-';
  if (!ew_quantity_parse(field, text, EW_KIND_RATIO, &share, error))
    return FALSE;
  *change = (struct ew_adjustment){EW_ADJUST_SCALE, sign ? 1 + share : share};
  return (change->figure >= 0.5 && change->figure <= 2) ||
         ew_refuse(error,
                   "%s: '%s' scales to %.0f %%; write +5 %% or -5 %% for a change, or 50 to 200 %% "
                   "for what is left of it",
                   field, text, 100 * change->figure);
}

gboolean ew_adjustment_parse(const char *field, const char *given, enum ew_kind set,
                             enum ew_kind by, struct ew_adjustment *change, GError **error) {
  g_autofree char *text = g_strstrip(g_strdup(given));
  if (g_str_has_prefix(text, "−")) { /* U+2212 */
    *text = '-';
    memmove(text + 1, text + 3, strlen(text + 3) + 1);
  }
  gboolean sign = *text == '+' || *text == '-';
  if (g_str_has_suffix(text, "%") && set != EW_KIND_RATIO) {
    if (set == NO_FIGURE || set == EW_KIND_TEMPERATURE)
      return ew_refuse(error, "%s: '%s': a percentage of it means nothing; write a change, %s",
                       field, text, ew_kind_examples(by));
    return parse_scale(field, text, change, error);
  }
  change->how = sign ? EW_ADJUST_BY : EW_ADJUST_SET;
  if (!sign && set == NO_FIGURE)
    return ew_refuse(error, "%s: '%s' has no sign, and there is no figure to set: write +%s or -%s",
                     field, text, text, text);
  return ew_quantity_parse(field, text, sign ? by : set, &change->figure, error);
}

gboolean ew_variation_parse(const char *text, GArray *into, GError **error) {
  const char *equals = strchr(text, '=');
  g_autofree char *name =
      equals ? g_strstrip(g_strndup(text, (gsize)(equals - text))) : g_strdup(text);
  int what = 0;
  while (what < VARY_COUNT && strcmp(ew_variation_names[what], name) != 0)
    what++;
  if (what == VARY_COUNT)
    what = field_named(name);
  if (what < 0 || !equals) {
    const char *near = ew_suggest(name, ew_variation_names, VARY_COUNT);
    g_autofree char *all = g_strjoinv(", ", ew_as_pointer(ew_variation_names));
    if (near)
      return ew_refuse(error, "change '%s': did you mean %s? Write NAME=CHANGE", text, near);
    return ew_refuse(error,
                     "change '%s': there is no such change; write NAME=CHANGE with one of %s, or a "
                     "figure of the engine's file (bore, inlet.head_diameter, breathing.plenum, "
                     "...)",
                     text, all);
  }
  g_auto(GStrv) values = g_strsplit(equals + 1, ",", -1);
  if (!values[0])
    return ew_refuse(error, "change '%s': there is no change after the '='", text);
  for (int i = 0; values[i]; i++) {
    struct ew_variation v = {.what = what};
    if (!ew_adjustment_parse(name, values[i], set_of(what), by_of(what), &v.change, error))
      return FALSE;
    v.text = g_strdup_printf("%s %s", name, g_strstrip(values[i]));
    g_array_append_val(into, v);
  }
  return TRUE;
}

/* ---- made ---- */

static double mean_ratio(const struct ew_cycle_model *m) {
  g_assert(m->cylinders > 0);
  double sum = 0;
  for (int i = 0; i < m->cylinders; i++)
    sum += m->cylinder[i].compression_ratio;
  return sum / m->cylinders;
}

static void shift_valves(const struct ew_varying *at, double degrees, gboolean exhaust) {
  g_assert(at->model->valve == at->valves);
  for (int i = 0; i < at->model->valves; i++)
    if ((at->valves[i].exhaust != 0) == exhaust)
      at->valves[i].first_deg += degrees;
}

static double octane_of(const struct ew_cycle_model *m) {
  return isnan(m->combustion.octane) ? (m->fuel->research_octane + m->fuel->motor_octane) / 2
                                     : m->combustion.octane;
}

/* The figure that a change is made to: of the engine before its model is built, else of the model. */
static double figure_of(const struct ew_varying *at, enum vary what) {
  const struct ew_engine_breathing *b = at->engine ? &at->engine->breathing : NULL;
  switch (what) {
  case VARY_RUNNER_LENGTH: return b->runner_length_m;
  case VARY_RUNNER_DIAMETER: return b->runner_diameter_m;
  case VARY_PRIMARY_LENGTH: return b->primary_length_m;
  case VARY_PRIMARY_DIAMETER: return b->primary_diameter_m;
  case VARY_COMPRESSION: return mean_ratio(at->model);
  case VARY_CAM_ADVANCE: return 0;
  case VARY_INLET_CENTRELINE: return at->inlet_centreline_deg;
  case VARY_EXHAUST_CENTRELINE: return at->exhaust_centreline_deg;
  case VARY_SPARK: return at->spark_deg;
  case VARY_LAMBDA: return 1 / at->model->equivalence;
  case VARY_OCTANE: return octane_of(at->model);
  case VARY_PORT_FLOW: return at->model->flow_factor;
  case VARY_ALTITUDE: return ew_standard_height_m(at->model->ambient_pa);
  case VARY_AIR_TEMPERATURE: return at->model->ambient_k;
  case VARY_COUNT: break;
  }
  return NAN;
}

static void put_figure(struct ew_varying *at, const struct ew_variation *v, struct ew_reach r) {
  struct ew_engine_breathing *b = at->engine ? &at->engine->breathing : NULL;
  struct ew_cycle_model *m = at->model;
  switch ((enum vary)v->what) {
  case VARY_RUNNER_LENGTH: b->runner_length_m = r.to; break;
  case VARY_RUNNER_DIAMETER: b->runner_diameter_m = r.to; break;
  case VARY_PRIMARY_LENGTH: b->primary_length_m = r.to; break;
  case VARY_PRIMARY_DIAMETER: b->primary_diameter_m = r.to; break;
  case VARY_COMPRESSION: /* each cylinder by itself */
    for (int i = 0; i < m->cylinders; i++)
      at->cylinders[i].compression_ratio =
          ew_adjusted(v->change, at->cylinders[i].compression_ratio);
    break;
  case VARY_CAM_ADVANCE:
    at->inlet_centreline_deg -= r.to;
    at->exhaust_centreline_deg += r.to;
    shift_valves(at, -r.to, FALSE);
    shift_valves(at, -r.to, TRUE);
    break;
  case VARY_INLET_CENTRELINE:
    at->inlet_centreline_deg = r.to;
    shift_valves(at, r.to - r.from, FALSE);
    break;
  case VARY_EXHAUST_CENTRELINE:
    at->exhaust_centreline_deg = r.to;
    shift_valves(at, r.from - r.to, TRUE);
    break;
  case VARY_SPARK: at->spark_deg = r.to; break;
  case VARY_LAMBDA: m->equivalence = 1 / r.to; break;
  case VARY_OCTANE: m->combustion.octane = r.to; break;
  case VARY_PORT_FLOW: m->flow_factor = r.to; break;
  case VARY_ALTITUDE: /* the air's own departure from the standard atmosphere goes along */
    m->ambient_pa = ew_standard_pressure_pa(r.to);
    m->ambient_k += ew_standard_temperature_k(r.to) - ew_standard_temperature_k(r.from);
    break;
  case VARY_AIR_TEMPERATURE: m->ambient_k = r.to; break;
  case VARY_COUNT: break;
  }
}

static gboolean of_engine(int what) {
  return what >= VARY_COUNT || (what >= VARY_RUNNER_LENGTH && what <= VARY_PRIMARY_DIAMETER);
}

gboolean ew_variation_of_engine(const struct ew_variation *v) {
  return of_engine(v->what);
}

/* What a figure can be, where the model would not refuse it by name. */
static gboolean check_range(const struct ew_variation *v, double to, GError **error) {
  gboolean good = isfinite(to);
  switch ((enum vary)v->what) {
  case VARY_LAMBDA: good &= to >= 0.4 && to <= 3; break;
  case VARY_PORT_FLOW: good &= to >= 0.3 && to <= 2; break;
  case VARY_ALTITUDE: good &= to >= -500 && to <= 8000; break;
  case VARY_AIR_TEMPERATURE: good &= to >= 230 && to <= 340; break;
  case VARY_SPARK: good &= to >= -40 && to <= 90; break;
  case VARY_OCTANE: good &= to >= 0 && to <= 200; break;
  case VARY_INLET_CENTRELINE:
  case VARY_EXHAUST_CENTRELINE: good &= to >= 40 && to <= 180; break;
  case VARY_CAM_ADVANCE: good &= fabs(to) <= 60; break;
  case VARY_RUNNER_LENGTH:
  case VARY_PRIMARY_LENGTH: good &= to > 0.01 && to <= 5; break;
  case VARY_RUNNER_DIAMETER:
  case VARY_PRIMARY_DIAMETER: good &= to > 0.005 && to <= 0.3; break;
  case VARY_COMPRESSION: good &= to > 1 && to <= 25; break;
  case VARY_COUNT: break;
  }
  if (good)
    return TRUE;
  g_autofree char *says = ew_variation_says(v, (struct ew_reach){NAN, to});
  return ew_refuse(error, "change '%s': %s is far out of range", v->text, says);
}

static gboolean refuse_absent(const struct ew_variation *v, GError **error) {
  g_autofree char *name = name_of(v->what);
  return ew_refuse(error,
                   "change '%s': the engine's file gives no %s: set it with a figure "
                   "without a sign, or write it into the file",
                   v->text, name);
}

/* A figure of the file, within the limits that its field has there. */
static gboolean vary_field(const struct ew_varying *at, const struct ew_variation *v,
                           struct ew_reach *reach, GError **error) {
  struct place place;
  double *figure = figure_at(at, v->what, &place);
  const struct ew_field *f = place.field;
  struct ew_reach r = {*figure, ew_adjusted(v->change, *figure)};
  if (isnan(r.from) && v->change.how != EW_ADJUST_SET)
    return refuse_absent(v, error);
  gboolean limited = f->minimum != 0 || f->maximum != 0;
  if (!isfinite(r.to) || (limited && !(r.to >= f->minimum && r.to <= f->maximum))) {
    g_autofree char *says = ew_variation_says(v, (struct ew_reach){NAN, r.to});
    return ew_refuse(error, "change '%s': %s is out of the field's range", v->text, says);
  }
  *figure = r.to;
  if (reach)
    *reach = r;
  return TRUE;
}

gboolean ew_vary(struct ew_varying *at, const struct ew_variation *v, gboolean model,
                 struct ew_reach *reach, GError **error) {
  if (of_engine(v->what) == model)
    return TRUE;
  if (ew_variation_is_field(v))
    return vary_field(at, v, reach, error);
  g_assert(model ? at->model != NULL : at->engine != NULL);
  double from = figure_of(at, (enum vary)v->what);
  struct ew_reach r = {from, ew_adjusted(v->change, from)};
  if (isnan(from) && v->change.how != EW_ADJUST_SET)
    return v->what == VARY_SPARK
               ? ew_refuse(error,
                           "change '%s': give spark too, so that there is an advance to "
                           "change",
                           v->text)
               : refuse_absent(v, error);
  if (!check_range(v, r.to, error))
    return FALSE;
  put_figure(at, v, r);
  if (reach)
    *reach = r;
  return TRUE;
}

/* ---- said ---- */

/* With as many places as the change needs. */
static char *shown(int what, double value, double step) {
  char buffer[EW_NUMBER_SIZE];
  enum ew_kind kind = set_of(what);
  gboolean metres = what == VARY_ALTITUDE;
  const char *unit = metres ? "m" : ew_kind_shown(kind, EW_UNITS_SI);
  double figure = metres ? value : ew_shown(kind, EW_UNITS_SI, value);
  double scale = metres ? 1 : ew_shown(kind, EW_UNITS_SI, 1) - ew_shown(kind, EW_UNITS_SI, 0);
  int places = what == VARY_LAMBDA ? 2 : 0;
  while (places < 3 && fabs(figure - round(figure * pow(10, places)) / pow(10, places)) >
                           0.02 * fabs(step * scale))
    places++;
  return g_strdup_printf("%s%s%s", ew_number_shown(figure, places, buffer), ew_unit_space(unit),
                         unit);
}

char *ew_variation_says(const struct ew_variation *v, struct ew_reach r) {
  if (set_of(v->what) == NO_FIGURE || (isnan(r.from) && isnan(r.to)))
    return g_strdup(v->text);
  g_autofree char *to = shown(v->what, r.to, isnan(r.from) ? r.to : r.to - r.from);
  g_autofree char *name = name_of(v->what);
  if (isnan(r.from))
    return ew_words("%s not in the file → %s", name, to);
  g_autofree char *from = shown(v->what, r.from, r.to - r.from);
  return g_strdup_printf("%s %s → %s", name, from, to);
}

/* "runner_length=312.25 mm": what ew_variation_parse reads to the same change, to 9 digits. */
char *ew_variation_asks(const struct ew_variation *v) {
  g_autofree char *name = name_of(v->what);
  char figure[G_ASCII_DTOSTR_BUF_SIZE];
  enum ew_kind kind = v->change.how == EW_ADJUST_BY ? by_of(v->what) : set_of(v->what);
  double f = v->change.figure;
  if (v->change.how == EW_ADJUST_SCALE)
    return g_strconcat(name, "=", g_ascii_formatd(figure, sizeof figure, "%.9g", 100 * f), " %",
                       NULL);
  const char *unit = kind == EW_KIND_ANGLE ? "deg" : ew_kind_si(kind); /* as one would type it */
  gboolean plain = strcmp(unit, "1") == 0;
  g_ascii_formatd(figure, sizeof figure, v->change.how == EW_ADJUST_BY ? "%+.9g" : "%.9g", f);
  return g_strdup_printf("%s=%s%s%s", name, figure, plain ? "" : " ", plain ? "" : unit);
}

/* "runner_length 312 mm", "cam_advance +2.0 deg", "runner_diameter 97 %": as it would be asked for. */
char *ew_variation_reads(const struct ew_variation *v) {
  g_autofree char *name = name_of(v->what);
  char buffer[EW_NUMBER_SIZE];
  double f = v->change.figure;
  if (v->change.how == EW_ADJUST_SCALE)
    return g_strdup_printf("%s %s %%", name, ew_number_shown(100 * f, 1, buffer));
  if (v->change.how == EW_ADJUST_BY) {
    enum ew_kind by = by_of(v->what);
    const char *unit = ew_kind_shown(by, EW_UNITS_SI);
    double shown_figure = ew_shown(by, EW_UNITS_SI, f) - ew_shown(by, EW_UNITS_SI, 0);
    return g_strdup_printf("%s %s%s%s%s", name, f < 0 ? "" : "+",
                           ew_number_shown(shown_figure, fabs(shown_figure) < 10 ? 2 : 1, buffer),
                           ew_unit_space(unit), unit);
  }
  enum ew_kind kind = set_of(v->what);
  const char *unit = ew_kind_shown(kind, EW_UNITS_SI);
  double given = ew_shown(kind, EW_UNITS_SI, f), size = fabs(given);
  return g_strdup_printf("%s %s%s%s", name,
                         ew_number_shown(given,
                                         size < 10    ? 2
                                         : size < 100 ? 1
                                                      : 0,
                                         buffer),
                         ew_unit_space(unit), unit);
}
