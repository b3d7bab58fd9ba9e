#include "desk/report.h"
#include "base/words.h"
#include "base/error.h"
#include "base/number.h"
#include "book/attachment.h"
#include "book/media.h"
#include "book/stream.h"
#include "desk/trip.h"
#include <math.h>
#include <string.h>

#define DISCARDED " was discarded: "
#define TRIPPED   " tripped: "

static void add_pair(GArray *pairs, const char *label, char *value) {
  if (!value || !*value) {
    g_free(value);
    return;
  }
  struct ew_report_pair pair = {g_strdup(label), value};
  g_array_append_val(pairs, pair);
}

/* The last run of pulls with equal set-ups that were not discarded: what the day ended with. */
static gboolean choose_pulls(struct ew_desk *desk, gint64 engine_id, GPtrArray *into,
                             GError **error) {
  g_autoptr(GArray) rows = ew_pull_list(desk->book, engine_id, error);
  g_autofree char *key = NULL;
  double top = NAN;
  for (guint i = rows->len; i-- > 0;) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (!ew_pull_counts(row))
      continue;
    struct ew_loaded *loaded = ew_desk_load_id(desk, row->id, error);
    if (!loaded)
      return FALSE;
    gboolean like =
        !key || (strcmp(key, loaded->setup_key) == 0 && fabs(loaded->curve->high_rpm - top) < 150);
    if (!like) {
      ew_loaded_free(loaded);
      break;
    }
    if (!key) {
      key = g_strdup(loaded->setup_key);
      top = loaded->curve->high_rpm;
    }
    g_ptr_array_insert(into, 0, loaded);
  }
  if (into->len)
    return TRUE;
  return ew_refuse(error, rows->len
                              ? "there is no pull to report on: all of this engine were discarded, "
                                "tripped, or were run for heat or break-in; name those that are "
                                "wanted by number"
                              : "there is no pull to report on: add one with 'enginewright pull "
                                "add FILE'");
}

/* A report is of one engine: of the one the pulls were made with, which has to be the one asked for. Files and pulls
 * without an engine leave it as it is. */
static gboolean engine_of_pulls(const GPtrArray *pulls, const char *asked, gint64 *id,
                                GError **error) {
  gint64 found = 0, first = 0;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    if (!l->row.engine_id || l->row.engine_id == found)
      continue;
    if (found)
      return ew_refuse(error,
                       "--pulls: pull %" G_GINT64_FORMAT " and pull %" G_GINT64_FORMAT
                       " are of different engines: a report is of one",
                       first, l->id);
    if (asked && l->row.engine_id != *id)
      return ew_refuse(error, "--pulls: pull %" G_GINT64_FORMAT " is not of engine '%s'", l->id,
                       asked);
    found = l->row.engine_id;
    first = l->id;
  }
  *id = found ? found : *id;
  return TRUE;
}

static char *air_text(const struct ew_curve *c, enum ew_unit_system units) {
  const struct ew_conditions *k = &c->conditions;
  g_autofree char *pressure =
      ew_quantity_format(EW_KIND_PRESSURE_ABSOLUTE, units, k->pressure_pa, units ? 2 : 1);
  g_autofree char *temperature =
      ew_quantity_format(EW_KIND_TEMPERATURE, units, k->temperature_k, 1);
  g_autofree char *vapour =
      ew_quantity_format(EW_KIND_PRESSURE_ABSOLUTE, units, k->vapour_pa, units ? 3 : 1);
  return g_strdup_printf("%s, %s, vapour %s", pressure, temperature, vapour);
}

static char *day_text(const GPtrArray *pulls) {
  const struct ew_loaded *first = g_ptr_array_index(pulls, 0),
                         *last = g_ptr_array_index(pulls, pulls->len - 1);
  if (!first->row.at)
    return NULL;
  gboolean one_day = strncmp(first->row.at, last->row.at, 10) == 0;
  return g_strdup_printf("%.10s, %.5s to %.10s%s%.5s UTC", first->row.at, first->row.at + 11,
                         one_day ? "" : last->row.at, one_day ? "" : ", ", last->row.at + 11);
}

static char *names_text(const GPtrArray *pulls) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    g_string_append_printf(text, "%s%" G_GINT64_FORMAT, i ? ", " : "", l->id);
  }
  return g_string_free(text, FALSE);
}

static char *setup_text(const struct ew_setup *setup, enum ew_unit_system units) {
  GString *text = g_string_new(NULL);
  for (gsize i = 0; i < ew_setup_fields.count; i++) {
    const struct ew_field *field = &ew_setup_fields.fields[i];
    g_autofree char *value = ew_setup_is_condition(field) || strcmp(field->name, "equipment") == 0
                                 ? NULL
                                 : ew_field_show(field, setup, units);
    if (value)
      g_string_append_printf(text, "%s%s %s", text->len ? ", " : "", field->name, value);
  }
  if (text->len && isnan(setup->spark_measured_deg) && !isnan(setup->spark_deg))
    g_string_append(text, " (spark not checked with a light)");
  g_strdelimit(text->str, "_", ' ');
  return g_string_free(text, FALSE);
}

static gboolean any_above_zero(const double *values, gsize n) {
  for (gsize i = 0; i < n; i++)
    if (values[i] != 0)
      return TRUE;
  return FALSE;
}

/* What was added back in these curves: not what the cell's file says today. */
static char *sweep_text(const GPtrArray *pulls) {
  const struct ew_curve *last =
      ((struct ew_loaded *)g_ptr_array_index(pulls, pulls->len - 1))->curve;
  guint brake = 0, engine = 0;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_curve *c = ((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve;
    brake += any_above_zero(c->inertia_n_m, c->points);
    engine += c->method.engine_inertia && any_above_zero(c->engine_inertia_n_m, c->points);
  }
  const char *of_brake = brake == pulls->len ? "inertia of rotor and coupling added back"
                         : brake
                             ? "inertia of rotor and coupling added back in some of the pulls only"
                             : "inertia of rotor and coupling is not stated and not added back";
  const char *of_engine = engine == pulls->len ? ", the engine's too"
                          : engine             ? ", the engine's in some of the pulls only"
                                               : "; the engine's own is not";
  return ew_words("sweep at %.0f rpm/s; %s%s", last->conditions.acceleration_rpm_s, of_brake,
                  brake || engine ? of_engine : "");
}

/* What this cell never records, said once; NULL: nothing. */
static char *not_fitted_text(const struct ew_bench *bench) {
  GString *text = g_string_new(NULL);
  for (int i = 0; i < EW_CHANNELS_COUNT; i++)
    if (ew_bench_lacks(bench, (enum ew_channel)i))
      g_string_append_printf(text, "%s%s", text->len ? ", " : "", ew_channel_facts[i].label);
  return g_string_free(text, text->len == 0);
}

static void fill_facts(struct ew_report *r, const struct ew_desk *desk, const GPtrArray *pulls) {
  const struct ew_loaded *last = g_ptr_array_index(pulls, pulls->len - 1);
  const struct ew_engine *e = &last->engine;
  const struct ew_curve *c = last->curve;
  double displacement = ew_engine_displacement_m3(e);
  add_pair(r->facts, "engine", g_strdup(e->name));
  add_pair(r->facts, "serial", g_strdup(e->serial));
  add_pair(r->facts, "for", g_strdup(e->owner));
  if (!isnan(displacement))
    add_pair(r->facts, "displacement",
             ew_quantity_format(EW_KIND_VOLUME, r->units, displacement, r->units ? 1 : 0));
  add_pair(r->facts, "fuel", g_strdup(last->setup.fuel ? last->setup.fuel : e->fuel));
  const char *equipment = last->setup.equipment ? last->setup.equipment : e->equipment;
  add_pair(r->facts, "equipment fitted", g_strdup(equipment ? equipment : "not stated"));
  add_pair(r->facts, "set-up", setup_text(&last->setup, r->units));
  add_pair(r->facts, "pulls", names_text(pulls));
  add_pair(r->facts, "when", day_text(pulls));
  add_pair(r->facts, "cell", g_strdup(desk->bench.name));
  add_pair(r->facts, "not fitted", not_fitted_text(&desk->bench));
  add_pair(r->facts, "inlet air", air_text(c, r->units));
  add_pair(r->facts, "factor",
           ew_words("%s applied (%s): %.4f%s", ew_standard_titles[c->method.standard],
                    ew_standard_references[c->method.standard], c->factor.factor,
                    c->factor.in_range ? "" : ", OUT OF ITS RANGE"));
  if (c->kind == EW_SEGMENT_SWEEP)
    add_pair(r->facts, "kind of test", sweep_text(pulls));
  else
    add_pair(r->facts, "kind of test", g_strdup("steady points"));
}

/* The band of use of the pull that goes least far, as far as all of them reach. */
static void common_band(const GPtrArray *pulls, double *low_rpm, double *high_rpm) {
  *low_rpm = 0;
  *high_rpm = INFINITY;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_curve *c = ((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve;
    if (c->band_high_rpm < *high_rpm) {
      *low_rpm = c->band_low_rpm;
      *high_rpm = c->band_high_rpm;
    }
  }
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_curve *c = ((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve;
    *low_rpm = fmax(*low_rpm, c->speed_rpm[0]);
  }
}

/* Peak of the mean of the pulls, with expanded uncertainty. Printed, never judged. */
struct peaks {
  double torque_n_m, torque_at_rpm, power_w, power_at_rpm;
  gboolean torque_at_end, power_at_end; /* the highest may lie beyond what was run */
};

/* The highest points of the mean of the pulls, where it is supported on both sides or said to lie at the end. */
static struct peaks find_peaks(const GPtrArray *pulls) {
  const struct ew_curve *c = ((struct ew_loaded *)g_ptr_array_index(pulls, 0))->curve;
  g_autofree double *speed = g_new(double, c->points), *torque = g_new(double, c->points),
                    *power = g_new(double, c->points), *se = g_new(double, c->points);
  gsize n = 0;
  for (gsize j = 0; j < c->points; j++) {
    double sum = 0, squares = 0;
    for (guint i = 0; i < pulls->len; i++) {
      const struct ew_curve *one = ((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve;
      double one_se = ew_curve_at(one, one->torque_se_n_m, c->speed_rpm[j]);
      sum += ew_curve_at(one, one->torque_n_m, c->speed_rpm[j]);
      squares += one_se * one_se;
    }
    if (isnan(sum))
      continue; /* not every pull reaches it */
    speed[n] = c->speed_rpm[j];
    torque[n] = sum / pulls->len;
    power[n] = torque[n] * speed[n] * G_PI / 30;
    se[n] = sqrt(squares) / pulls->len / torque[n];
    n++;
  }
  struct peaks best = {0};
  if (n == 0)
    return best;
  double margin = ew_curve_margin_rpm(c);
  gsize most = ew_highest_point(speed, torque, se, n, margin, &best.torque_at_end),
        strong = ew_highest_point(speed, power, se, n, margin, &best.power_at_end);
  best.torque_n_m = torque[most], best.torque_at_rpm = speed[most];
  best.power_w = power[strong], best.power_at_rpm = speed[strong];
  return best;
}

static void fill_budget(struct ew_report *r, const struct ew_budget *budget) {
  for (gsize i = 0; i < budget->count; i++) {
    g_autofree char *one =
        ew_quantity_format(EW_KIND_TORQUE, r->units, budget->rows[i].standard_n_m, 2);
    add_pair(r->budget, budget->rows[i].from,
             g_strconcat(one, budget->rows[i].cancels ? " (cancels in a comparison)" : "", NULL));
  }
  g_autofree char *absolute = ew_quantity_format(EW_KIND_TORQUE, r->units, budget->expanded_n_m, 1),
                  *compared = ew_quantity_format(EW_KIND_TORQUE, r->units,
                                                 budget->expanded_comparative_n_m, 1);
  add_pair(r->budget, "expanded (95 %)", g_strdup_printf("± %s absolute", absolute));
  add_pair(r->budget, "in a comparison", g_strdup_printf("± %s", compared));
}

static void add_peak(struct ew_report *r, const char *what, enum ew_kind kind, double value,
                     double speed_rpm, gboolean at_end) {
  double shown = ew_shown(kind, r->units, value);
  g_autofree char *text = ew_number_with_uncertainty(shown, shown * r->expanded_relative);
  g_autofree char *at = ew_number_thousands(speed_rpm);
  g_ptr_array_add(
      r->results,
      g_strdup_printf("%s %s %s at %s rpm%s", what, text, ew_kind_shown(kind, r->units), at,
                      at_end ? ", where the pulls end: the highest may lie beyond" : ""));
}

static void fill_results(struct ew_report *r, const struct ew_desk *desk, const GPtrArray *pulls) {
  struct peaks best = find_peaks(pulls);
  double low_rpm, high_rpm, band = 0;
  common_band(pulls, &low_rpm, &high_rpm);
  for (guint i = 0; i < pulls->len; i++)
    band += exp(ew_curve_band_log(((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve, low_rpm,
                                  high_rpm)) /
            pulls->len;
  struct ew_budget budget = ew_ask_budget(desk, g_ptr_array_index(pulls, 0), best.torque_at_rpm);
  r->expanded_relative = budget.expanded_n_m / best.torque_n_m;
  add_peak(r, "Highest power", EW_KIND_POWER, best.power_w, best.power_at_rpm, best.power_at_end);
  add_peak(r, "Highest torque", EW_KIND_TORQUE, best.torque_n_m, best.torque_at_rpm,
           best.torque_at_end);
  double shown = ew_shown(EW_KIND_TORQUE, r->units, band);
  g_autofree char *mean = ew_number_with_uncertainty(shown, shown * r->expanded_relative);
  g_autofree char *low = ew_number_thousands(low_rpm), *high = ew_number_thousands(high_rpm);
  g_ptr_array_add(
      r->results,
      g_strdup_printf("Mean torque %s to %s rpm: %s %s. Mean of %u pull%s, all %u shown.", low,
                      high, mean, ew_kind_shown(EW_KIND_TORQUE, r->units), pulls->len,
                      pulls->len > 1 ? "s" : "", pulls->len));
  fill_budget(r, &budget);
}

/* What tripped stays with the pull, also where it is left out of the means. */
static void caution_trips(struct ew_report *r, struct ew_book *book, gint64 pull_id,
                          const GPtrArray *pulls) {
  g_autofree char *what = ew_trips_of_pull_say(book, pull_id);
  gboolean named = FALSE;
  for (guint i = 0; i < pulls->len; i++)
    named |= ((const struct ew_loaded *)g_ptr_array_index(pulls, i))->id == pull_id;
  g_ptr_array_add(
      r->cautions,
      g_strdup_printf("Pull %" G_GINT64_FORMAT TRIPPED "%s.%s", pull_id, what ? what : "",
                      named ? " It is in this report because it was asked for by number."
                            : " It is not in the means."));
}

/* Between pulls too: an engine that was shut down is told, and whether somebody looked. */
static void caution_trips_between(struct ew_report *r, struct ew_book *book, gint64 engine_id) {
  g_autoptr(GArray) trips = ew_trip_list(book, NULL);
  for (guint i = 0; i < trips->len; i++) {
    const struct ew_trip_row *t = &g_array_index(trips, struct ew_trip_row, i);
    if (!t->asks || t->pull_id || t->engine_id != engine_id)
      continue;
    g_autofree char *what = ew_trip_says(t), *found = ew_trip_found_says(t);
    g_ptr_array_add(r->cautions, g_strdup_printf("Alarm" TRIPPED "%s%s.", what, found));
  }
}

static void fill_changes(struct ew_report *r, const struct ew_desk *desk, gint64 engine_id,
                         const GPtrArray *pulls) {
  g_autoptr(GArray) rows = ew_pull_list(desk->book, engine_id, NULL);
  g_autoptr(GArray) verdicts = ew_verdict_list(desk->book, engine_id, NULL);
  struct ew_setup before = {0};
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    struct ew_setup now;
    if (!ew_record_from_yaml(&ew_setup_fields, "set-up", row->setup, &now, NULL))
      continue;
    g_autoptr(GPtrArray) changes = i ? ew_setup_changes(&before, &now, r->units) : NULL;
    if ((changes && changes->len) || row->changed) {
      if (!changes)
        changes = g_ptr_array_new_with_free_func(g_free);
      g_ptr_array_add(changes, NULL);
      g_autofree char *list = g_strjoinv("; ", (char **)changes->pdata);
      g_ptr_array_add(r->changes, g_strdup_printf("before pull %" G_GINT64_FORMAT ": %s%s%s",
                                                  row->id, row->changed ? row->changed : "",
                                                  row->changed && *list ? "; " : "", list));
    }
    if (row->tripped)
      caution_trips(r, desk->book, row->id, pulls);
    if (row->discarded)
      g_ptr_array_add(r->cautions, g_strdup_printf("Pull %" G_GINT64_FORMAT DISCARDED "%s", row->id,
                                                   row->discarded));
    ew_setup_clear(&before);
    before = now;
  }
  ew_setup_clear(&before);
  caution_trips_between(r, desk->book, engine_id);
  for (guint i = 0; i < verdicts->len; i++) {
    const struct ew_verdict_row *v = &g_array_index(verdicts, struct ew_verdict_row, i);
    g_ptr_array_add(r->changes, g_strdup_printf("%s, %s: %s", v->question, v->pulls, v->says));
  }
}

/* A mean of pulls that differ is a mean of nothing in particular: then it is said. */
static void caution_mixed(struct ew_report *r, const GPtrArray *pulls) {
  double least = INFINITY, most = 0;
  gboolean alike = TRUE;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i), *first = g_ptr_array_index(pulls, 0);
    least = fmin(least, l->curve->high_rpm);
    most = fmax(most, l->curve->high_rpm);
    g_autoptr(GPtrArray) changes = ew_setup_changes(&first->setup, &l->setup, r->units);
    alike &= changes->len == 0;
  }
  if (most > 1.02 * least) {
    g_autofree char *low = ew_number_thousands(least), *high = ew_number_thousands(most);
    g_ptr_array_add(r->cautions,
                    g_strdup_printf("The pulls end between %s and %s rpm: the means are "
                                    "of the speeds that all of them reach.",
                                    low, high));
  }
  if (!alike)
    g_ptr_array_add(r->cautions,
                    g_strdup("The pulls were run with different set-ups: the mean is of "
                             "all of them, the set-up stated is the last."));
}

/* A report names its engine: figures of the practice cell are not that engine's. */
static void caution_invented(struct ew_report *r, struct ew_book *book, const GPtrArray *pulls) {
  g_autoptr(GString) which = g_string_new(NULL);
  guint count = 0;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    if (ew_stream_cut_invented(book, l->row.recording_id))
      g_string_append_printf(which, "%s%" G_GINT64_FORMAT, count++ ? ", " : "", l->id);
  }
  if (count)
    g_ptr_array_add(r->cautions,
                    g_strdup_printf("Pull%s %s: of the practice cell, an invented engine. Nothing "
                                    "here proves the engine named above.",
                                    count > 1 ? "s" : "", which->str));
}

static void fill_cautions(struct ew_report *r, const struct ew_desk *desk, const GPtrArray *pulls) {
  g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    for (guint w = 0; w < l->curve->warnings->len; w++) {
      char *warning = g_ptr_array_index(l->curve->warnings, w);
      if (g_hash_table_add(seen, warning))
        g_ptr_array_add(r->cautions,
                        g_strdup_printf("Pull %" G_GINT64_FORMAT ": %s", l->id, warning));
    }
  }
  caution_invented(r, desk->book, pulls);
  g_autofree char *overdue = ew_calibration_overdue(desk->book);
  if (overdue)
    g_ptr_array_add(r->cautions, g_strdup_printf("%c%s.", g_ascii_toupper(*overdue), overdue + 1));
  caution_mixed(r, pulls);
  const struct ew_loaded *last = g_ptr_array_index(pulls, pulls->len - 1);
  g_ptr_array_add(r->cautions,
                  g_strdup(last->curve->method.standard == EW_STANDARD_NONE
                               ? "No factor was applied: figures are of the air of the day."
                               : "A factor was applied; this is not a test to that standard."));
}

static void fill_digests(struct ew_report *r, const struct ew_desk *desk, const GPtrArray *pulls) {
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    struct ew_recording_row row;
    if (ew_recording_get(desk->book, l->row.recording_id, &row, NULL)) {
      g_ptr_array_add(r->digests, g_strdup_printf("pull %" G_GINT64_FORMAT "  %s  %s", l->id,
                                                  row.sha256, row.name));
      ew_recording_row_clear(&row);
    }
  }
}

static void photo_clear(void *data) {
  struct ew_report_photo *photo = data;
  g_bytes_unref(photo->bytes);
  g_free(photo->caption);
}

static gboolean add_photo(struct ew_report *r, struct ew_book *book, gint64 id, gsize *total,
                          GError **error) {
  struct ew_attachment_row row;
  if (!ew_attachment_get(book, id, &row, error))
    return FALSE;
  GBytes *bytes = ew_attachment_bytes(book, id, error);
  gsize size = 0;
  const guint8 *data = bytes ? g_bytes_get_data(bytes, &size) : NULL;
  const char *media = bytes ? ew_media_of(data, size) : "";
  gboolean good = bytes != NULL;
  if (good && strcmp(media, "image/jpeg") && strcmp(media, "image/png"))
    good = ew_refuse(error, "photos: attachment %" G_GINT64_FORMAT " (%s) is no sound JPEG or PNG",
                     id, row.name);
  else if (good && row.withdrawn)
    good = ew_refuse(error, "photos: attachment %" G_GINT64_FORMAT " was taken back: %s", id,
                     row.withdrawn);
  else if (good && (*total += size) > EW_REPORT_PHOTO_BYTES)
    good = ew_refuse(error, "photos: together over %zu MB: choose fewer, or smaller ones",
                     EW_REPORT_PHOTO_BYTES >> 20);
  if (good) {
    struct ew_report_photo photo = {media, ew_media_plain(bytes),
                                    g_strdup(row.note ? row.note : row.name)};
    g_array_append_val(r->photos, photo);
  }
  if (bytes)
    g_bytes_unref(bytes);
  ew_attachment_row_clear(&row);
  return good;
}

static gboolean fill_photos(struct ew_report *r, struct ew_book *book, const char *ids,
                            GError **error) {
  r->photos = g_array_new(FALSE, FALSE, sizeof(struct ew_report_photo));
  g_array_set_clear_func(r->photos, photo_clear);
  g_auto(GStrv) parts = g_strsplit(ids ? ids : "", ",", -1);
  gsize total = 0;
  for (int i = 0; parts[i]; i++) {
    guint64 id;
    if (!g_ascii_string_to_unsigned(g_strstrip(parts[i]), 10, 1, G_MAXINT32, &id, NULL))
      return ew_refuse(error, "photos: '%.40s' is no number of an attachment", parts[i]);
    if (!add_photo(r, book, (gint64)id, &total, error))
      return FALSE;
  }
  return TRUE;
}

static void relabel(char **text, enum ew_labels labels) {
  char *put = ew_labels_put(*text, labels);
  g_free(*text);
  *text = put;
}

/* What the program says of the test; names, remarks and what somebody typed stay as they are. */
static void put_labels(struct ew_report *r) {
  enum ew_labels labels = r->head.labels;
  if (labels == EW_LABELS_BRITISH)
    return;
  for (guint i = 0; i < r->facts->len; i++) {
    struct ew_report_pair *pair = &g_array_index(r->facts, struct ew_report_pair, i);
    if (!ew_pair_is_typed(pair->label))
      relabel(&pair->value, labels);
    relabel(&pair->label, labels);
  }
  for (guint i = 0; i < r->budget->len; i++)
    relabel(&g_array_index(r->budget, struct ew_report_pair, i).label, labels);
  for (guint i = 0; i < r->cautions->len; i++)
    if (!strstr(r->cautions->pdata[i], DISCARDED) && !strstr(r->cautions->pdata[i], TRIPPED))
      /* the reason, and what was found, are somebody's own words */
      relabel((char **)&r->cautions->pdata[i], labels);
}

/* The mean of a recording with itself is no mean: each counts once. */
static void drop_same(struct ew_desk *desk, GPtrArray *pulls, GPtrArray *cautions) {
  g_autoptr(GHashTable) met = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < pulls->len;) {
    struct ew_loaded *l = g_ptr_array_index(pulls, i);
    const struct ew_loaded *before = g_hash_table_lookup(met, ew_desk_evidence(desk, l));
    if (!before) {
      g_hash_table_insert(met, l->evidence, l);
      i++;
      continue;
    }
    g_ptr_array_add(cautions, g_strdup_printf("Pull %" G_GINT64_FORMAT " is the same recording as "
                                              "pull %" G_GINT64_FORMAT ": it counts once.",
                                              l->id, before->id));
    g_ptr_array_remove_index(pulls, i);
  }
}

gboolean ew_make_report(struct ew_desk *desk, const struct ew_report_options *o, GError **error) {
  struct ew_engine_row engine = {0};
  if (!ew_engine_get(desk->book, o->engine, &engine) && o->engine)
    return ew_refuse(error, "--engine '%s': no such engine in this book", o->engine);
  g_autoptr(GPtrArray) pulls = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  gboolean good = o->pulls ? ew_desk_load(desk, o->pulls, pulls, error) &&
                                 engine_of_pulls(pulls, o->engine, &engine.id, error)
                           : choose_pulls(desk, engine.id, pulls, error);
  g_autoptr(GPtrArray) same = g_ptr_array_new_with_free_func(g_free);
  if (good) {
    drop_same(desk, pulls, same);
    struct ew_sheet_head head;
    ew_sheet_head_read(desk->book, &o->sheet, "Test report", &head);
    struct ew_report r = {.head = head.flow,
                          .units = head.units,
                          .facts = g_array_new(FALSE, FALSE, sizeof(struct ew_report_pair)),
                          .budget = g_array_new(FALSE, FALSE, sizeof(struct ew_report_pair)),
                          .curves = g_ptr_array_new(),
                          .results = g_ptr_array_new_with_free_func(g_free),
                          .changes = g_ptr_array_new_with_free_func(g_free),
                          .cautions = g_ptr_array_new_with_free_func(g_free),
                          .digests = g_ptr_array_new_with_free_func(g_free)};
    for (guint i = 0; i < pulls->len; i++)
      g_ptr_array_add(r.curves, ((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve);
    fill_facts(&r, desk, pulls);
    fill_results(&r, desk, pulls);
    fill_changes(&r, desk, engine.id, pulls);
    for (guint i = 0; i < same->len; i++)
      g_ptr_array_add(r.cautions, g_strdup(same->pdata[i]));
    fill_cautions(&r, desk, pulls);
    fill_digests(&r, desk, pulls);
    put_labels(&r);
    good = fill_photos(&r, desk->book, o->photos, error) &&
           ew_report_draw(&r, o->sheet.path, o->sheet.format, head.paper, error);
    g_array_unref(r.photos);
    ew_report_clear(&r);
    ew_sheet_head_clear(&head);
  }
  ew_engine_row_clear(&engine);
  return good;
}
