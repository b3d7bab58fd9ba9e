/* Pulls are taken in the order in which they ran, not in that in which they were added. A pull that is held or discarded
 * teaches nothing; one for heat still knows the barometer. */
#include "desk/doubt.h"
#include "desk/mend.h"
#include "base/error.h"
#include "base/statistics.h"
#include "book/hold.h"
#include "desk/carry.h"
#include "desk/cell_record.h"
#include "pull/plausible_kinds.h"
#include <math.h>
#include <string.h>

/* The last of the rows before an instant that `of` takes; NULL: none. */
static const struct ew_pull_row *last_before(const GArray *rows, double unix_s, gint64 except,
                                             gint64 engine_id, gboolean any) {
  const struct ew_pull_row *last = NULL;
  double last_s = NAN;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    gboolean taken =
        any ? !row->held && !row->discarded : row->engine_id == engine_id && ew_pull_counts(row);
    double at = taken && row->id != except ? ew_instant(row->at) : (double)NAN;
    if (at <= unix_s && !(at < last_s)) {
      last = row;
      last_s = at;
    }
  }
  return last;
}

void ew_before_clear(struct ew_before *before) {
  if (before->loaded)
    ew_fields_clear(&ew_bench_fields, &before->bench);
  ew_loaded_free(before->loaded);
  before->loaded = NULL;
}

/* The cell's record that the curve was computed with. */
static gboolean take_bench(const struct ew_desk *desk, struct ew_before *before, GError **error) {
  g_assert(before->loaded);
  struct ew_curve_row row = {0};
  ew_bench_defaults(&before->bench);
  gboolean good = ew_curve_get(desk->book, before->loaded->id, &row, error);
  if (good && row.cell && *row.cell) {
    ew_fields_clear(&ew_bench_fields, &before->bench);
    good = ew_record_from_yaml(&ew_bench_fields, "cell", row.cell, &before->bench, error);
  }
  ew_curve_row_clear(&row);
  return good;
}

static gboolean take_pressure(const struct ew_desk *desk, const struct ew_pull_row *row,
                              double unix_s, struct ew_before *before, GError **error) {
  struct ew_loaded *other = NULL, *l = before->loaded;
  if (!l || l->id != row->id)
    l = other = ew_desk_load_id(desk, row->id, error);
  if (!l)
    return FALSE;
  before->pressure_pa = l->curve->conditions.pressure_pa;
  before->age_s = unix_s - ew_instant(row->at);
  ew_loaded_free(other);
  return TRUE;
}

gboolean ew_before_of(const struct ew_desk *desk, const GArray *rows, gint64 engine_id,
                      double unix_s, gint64 except, struct ew_before *before, GError **error) {
  *before = (struct ew_before){.pressure_pa = NAN, .age_s = NAN};
  const struct ew_pull_row *last = last_before(rows, unix_s, except, engine_id, FALSE);
  const struct ew_pull_row *any = last_before(rows, unix_s, except, 0, TRUE);
  if (last && !(before->loaded = ew_desk_load_id(desk, last->id, error)))
    return FALSE;
  if ((!last || take_bench(desk, before, error)) &&
      (!any || take_pressure(desk, any, unix_s, before, error)))
    return TRUE;
  ew_before_clear(before);
  return FALSE;
}

GPtrArray *ew_doubts_of(const struct ew_desk *desk, const struct ew_processed *processed,
                        guint part, const struct ew_before *before) {
  struct ew_plausible p = ew_plausible_nothing();
  p.series = processed->series;
  if (part < processed->curves->len) {
    g_assert(processed->segments->len == processed->curves->len);
    p.segment = processed->segments->pdata[part];
    p.curve = processed->curves->pdata[part];
  }
  p.engine = &desk->engine;
  p.bench = &desk->bench;
  p.setup = &desk->setup;
  p.right_inertia_kg_m2 = ew_cell_right_inertia(desk->book);
  if (before && before->loaded) {
    p.before = before->loaded->curve;
    p.bench_before = &before->bench;
    p.setup_before = &before->loaded->setup;
  }
  if (before) {
    p.known_pressure_pa = before->pressure_pa;
    p.known_pressure_age_s = before->age_s;
  }
  return ew_implausible(&p);
}

#define TYPED_APART_PA                                                                             \
  400                    /* two barometers, or one read by two people; common practice, no source */
#define TYPED_APART_K 10 /* the shop's air against the engine's; common practice, no source */

static ew_message *two_of(enum ew_channel channel, double typed, double recorded) {
  g_assert(!isnan(typed) && !isnan(recorded));
  enum ew_kind kind = ew_channel_facts[channel].kind;
  return ew_message_about(ew_message(&ew_doubt_typed_two,
                                     ew_say_word("channel", ew_channel_word(channel)),
                                     ew_say_quantity("typed", kind, typed, 1),
                                     ew_say_quantity("recorded", kind, recorded, 1)),
                          ew_channel_facts[channel].key);
}

void ew_doubt_typed(const struct ew_carried *carried, const struct ew_setup *setup,
                    const struct ew_processed *processed, guint part, GPtrArray *doubts) {
  if (part >= processed->curves->len)
    return;
  const struct ew_conditions *c =
      &((const struct ew_curve *)processed->curves->pdata[part])->conditions;
  gboolean pressure = carried->facts[0].from == EW_FROM_TYPED,
           temperature = carried->facts[1].from == EW_FROM_TYPED;
  if (pressure && strcmp(c->pressure_from, "channel") == 0 &&
      fabs(setup->pressure_pa - c->pressure_pa) > TYPED_APART_PA)
    ew_messages_add(doubts, two_of(EW_CHANNEL_BAROMETER, setup->pressure_pa, c->pressure_pa));
  if (temperature && strcmp(c->temperature_from, "channel") == 0 &&
      fabs(setup->temperature_k - c->temperature_k) > TYPED_APART_K)
    ew_messages_add(
        doubts, two_of(EW_CHANNEL_INLET_AIR_TEMPERATURE, setup->temperature_k, c->temperature_k));
}

static void station_apart(const struct ew_message_kind *kind, const char *about,
                          enum ew_channel channel, double counts, const struct ew_station_fact *s,
                          double apart, GPtrArray *doubts) {
  enum ew_kind quantity = ew_channel_facts[channel].kind;
  if (fabs(counts - s->value) > apart)
    ew_messages_add(
        doubts, ew_message_about(ew_message(kind, ew_say_word("channel", ew_channel_word(channel)),
                                            ew_say_quantity("counts", quantity, counts, 1),
                                            ew_say_quantity("station", quantity, s->value, 1)),
                                 about));
}

/* The inlet air that an engine's own sensor reads is warmer than the room's: only barometers are held against each other then. */
void ew_doubt_station(const struct ew_carried *carried, const struct ew_setup *setup,
                      const struct ew_processed *processed, guint part, GPtrArray *doubts) {
  if (part >= processed->curves->len)
    return;
  const struct ew_conditions *c =
      &((const struct ew_curve *)processed->curves->pdata[part])->conditions;
  const struct ew_station_fact *pressure = &carried->station.facts[0],
                               *temperature = &carried->station.facts[1];
  gboolean recorded = strcmp(c->pressure_from, "channel") == 0;
  if (carried->fresh[0] && recorded)
    station_apart(&ew_doubt_station_recorded, EW_DOUBT_RECORDED "barometer", EW_CHANNEL_BAROMETER,
                  c->pressure_pa, pressure, TYPED_APART_PA, doubts);
  else if (carried->fresh[0] && carried->facts[0].from == EW_FROM_TYPED)
    station_apart(&ew_doubt_station_typed, "barometer", EW_CHANNEL_BAROMETER, setup->pressure_pa,
                  pressure, TYPED_APART_PA, doubts);
  if (carried->fresh[1] && carried->facts[1].from == EW_FROM_TYPED &&
      strcmp(c->temperature_from, "channel") != 0)
    station_apart(&ew_doubt_station_typed, "inlet_air_temperature",
                  EW_CHANNEL_INLET_AIR_TEMPERATURE, setup->temperature_k, temperature,
                  TYPED_APART_K, doubts);
}

#define TWICE_MEAN  5e-4 /* of the band's mean: further apart it is another pull */
#define TWICE_SHARE 0.1  /* of the scatter that two pulls of these samples have */
#define TWICE_LEAST 10   /* points in common */

/* Root mean square difference of two curves at the same speeds, relative, over what two pulls with these standard errors differ by; NaN:
 * too few in common, or no scatter to tell by. *share: the difference itself. */
static double sameness(const struct ew_curve *now, const struct ew_curve *other, double *share) {
  double squares = 0, expected = 0;
  gsize n = 0;
  for (gsize j = 0; j < now->points; j++) {
    double then = ew_curve_at(other, other->observed_n_m, now->speed_rpm[j]);
    double here = now->observed_n_m[j], se = now->torque_se_n_m[j] / now->torque_n_m[j];
    if (!(then > 0) || !(here > 0) || isnan(se))
      continue;
    squares += pow(here / then - 1, 2);
    expected += 2 * se * se;
    n++;
  }
  *share = sqrt(squares / (double)n);
  return n < TWICE_LEAST || !(expected > 0) ? (double)NAN : sqrt(squares / expected);
}

static void doubt_same_as(const struct ew_desk *desk, const struct ew_curve *curve, gint64 id,
                          GPtrArray *doubts) {
  struct ew_loaded *other = ew_desk_load_id(desk, id, NULL);
  double share = NAN, same = other ? sameness(curve, other->curve, &share) : (double)NAN;
  if (same < TWICE_SHARE)
    ew_messages_add(doubts, ew_message_about(ew_message(&ew_doubt_twice, ew_say_count("other", id),
                                                        ew_say_share("share", share, 4)),
                                             "recording"));
  ew_loaded_free(other);
}

static gboolean is_own_export(const struct ew_series *series) {
  gboolean torque = FALSE, observed = FALSE;
  for (guint c = 0; c < series->channels_count; c++) {
    torque |= g_str_has_prefix(series->channels[c].name, "torque_se_n_m");
    observed |= g_str_has_prefix(series->channels[c].name, "observed_torque_n_m");
  }
  return torque && observed;
}

void ew_doubt_second_time(const struct ew_desk *desk, const GArray *rows, gint64 engine_id,
                          const struct ew_processed *processed, guint part, GPtrArray *doubts) {
  if (part >= processed->curves->len)
    return;
  const struct ew_curve *curve = processed->curves->pdata[part];
  if (is_own_export(processed->series))
    ew_messages_add(doubts, ew_message_about(ew_message_plain(&ew_doubt_own_export), "recording"));
  guint before = doubts->len;
  for (guint i = 0; i < rows->len && doubts->len == before && curve->kind == EW_SEGMENT_SWEEP;
       i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (row->engine_id == engine_id && !row->discarded &&
        fabs(row->band_mean_n_m / curve->band_mean_n_m - 1) < TWICE_MEAN)
      doubt_same_as(desk, curve, row->id, doubts);
  }
}

EW_MESSAGE(
    barometer_moved, "desk.barometer-moved", EW_CAUTION,
    "the barometer reads {pressure}, {change} from the last pulls: is it station pressure, not "
    "reduced to sea level?");
/* A barometer more than 15 hPa away from the last pulls of this book is likely a reading reduced to sea
 * level (150 m are 18 hPa); common practice, no source. */
ew_message *ew_barometer_moved(const struct ew_desk *desk, const GArray *rows,
                               const struct ew_processed *processed) {
  double known[10] = {0};
  gsize count = 0;
  for (guint i = rows->len; i-- > 0 && count < G_N_ELEMENTS(known);) {
    struct ew_loaded *l =
        ew_desk_load_id(desk, g_array_index(rows, struct ew_pull_row, i).id, NULL);
    if (l && !isnan(l->curve->conditions.pressure_pa))
      known[count++] = l->curve->conditions.pressure_pa;
    ew_loaded_free(l);
  }
  g_assert(count <= G_N_ELEMENTS(known));
  double usual = ew_median(known, count, EW_NONE_ABSENT);
  for (guint i = 0; count > 0 && i < processed->curves->len; i++) {
    double here =
        ((struct ew_curve *)g_ptr_array_index(processed->curves, i))->conditions.pressure_pa;
    if (fabs(here - usual) > 1500)
      return ew_message(&barometer_moved,
                        ew_say_quantity("pressure", EW_KIND_PRESSURE_ABSOLUTE, here, 1),
                        ew_say_change("change", EW_KIND_PRESSURE_ABSOLUTE, here - usual, 0));
  }
  return NULL;
}

void ew_held_json(struct ew_book *book, const GArray *ids, struct ew_json *json) {
  ew_json_open_array(json, "held");
  for (guint k = 0; k < ids->len; k++) {
    gint64 id = g_array_index(ids, gint64, k);
    g_autoptr(GArray) rows = ew_hold_list(book, id, NULL);
    for (guint i = 0; i < rows->len; i++) {
      const struct ew_hold_row *row = &g_array_index(rows, struct ew_hold_row, i);
      g_autoptr(ew_message) finding =
          row->answered_at ? NULL : ew_message_read(row->finding, strlen(row->finding), NULL);
      g_autofree char *mend = finding ? ew_plausible_mend(finding, id) : NULL;
      if (!finding)
        continue;
      ew_json_open(json, NULL);
      ew_json_integer(json, "pull", id);
      ew_message_write_member(finding, "finding", EW_UNITS_SI, json);
      ew_mend_json(mend, json);
      ew_json_close(json);
    }
  }
  ew_json_close_array(json);
}
