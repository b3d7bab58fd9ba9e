/* Runs a day's script (YAML): the practice cell makes recordings, and every one goes through ew_add_bytes and the
 * questions of desk/question.h as a real one does. Nothing is stored by a way of its own, so the demo day tests the
 * doors that a shop uses. The same script and seed give the same book. */
#include "desk/day.h"
#include "base/words.h"
#include "base/language.h"
#include "base/error.h"
#include "base/yaml_keep.h"
#include "book/keep.h"
#include "cell/practice.h"
#include "desk/add.h"
#include <math.h>
#include <string.h>

struct step_fields {
  char *purpose, *changed, *label, *seen, *remark, *discard, *at, *parts;
  double spark_deg, lambda, from_rpm, to_rpm, rate_rpm_s, rest_s, oil_k, idle_s, oil_level_m3;
  int repeat, after_stop;
};
#define AT(member) offsetof(struct step_fields, member)
#define Q(field, unit, member, low, high)                                                          \
  .name = field, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_##unit, .offset = AT(member),          \
  .minimum = low, .maximum = high
#define T(field, member) .name = field, .type = EW_FIELD_TEXT, .offset = AT(member)
static const struct ew_field step_table[] = {
    {T("label", label), .help = "name of these pulls, for the questions"},
    {T("purpose", purpose), .fallback = "pull", .help = "pull, heat or break-in"},
    {T("changed", changed), .help = "what was changed"},
    {T("seen", seen), .help = "what was seen or heard afterwards"},
    {T("remark", remark), .help = "anything else worth noting"},
    {T("discard", discard), .help = "reason for discarding"},
    {T("parts", parts), .help = "parts changed"},
    {Q("spark", ANGLE, spark_deg, 0, 60), .help = "spark advance"},
    {Q("lambda", LAMBDA, lambda, 0.5, 1.5), .help = "mixture"},
    {Q("from", ROTATIONAL_SPEED, from_rpm, 300, 20000), .help = "speed at the start"},
    {Q("to", ROTATIONAL_SPEED, to_rpm, 300, 20000), .help = "the rpm limit"},
    {Q("rate", ROTATIONAL_ACCELERATION, rate_rpm_s, 10, 3000), .help = "acceleration"},
    {Q("rest", TIME, rest_s, 0, 100000), .help = "time since the last pull"},
    {Q("oil", TEMPERATURE, oil_k, 250, 430), .help = "oil temperature at the start"},
    {Q("oil_level", VOLUME, oil_level_m3, -0.02, 0.02), .help = "oil above or below the mark"},
    {Q("idle", TIME, idle_s, 1, 100000), .help = "length of a run without load"},
    {.name = "repeat",
     .type = EW_FIELD_INTEGER,
     .kind = EW_KIND_COUNT,
     .offset = AT(repeat),
     .minimum = 1,
     .maximum = 50,
     .fallback = "1",
     .help = "how many times"},
    {.name = "after_stop",
     .type = EW_FIELD_BOOLEAN,
     .offset = AT(after_stop),
     .fallback = "no",
     .help = "the engine was stopped before"},
};
static const struct ew_fields step_fields = {EW_TEXT("a step"), sizeof(struct step_fields),
                                             step_table, G_N_ELEMENTS(step_table)};

/* words: what a pull is for, as lists of pulls show it */
static const char *const purposes[] G_GNUC_UNUSED = {EW_TEXT("heat"), EW_TEXT("break-in")};

struct day {
  struct ew_book *book;
  struct ew_desk desk;
  struct ew_practice practice;
  struct step_fields now; /* settings carried from step to step */
  GHashTable *labels;     /* char* -> GPtrArray* of id texts */
  const char *where, *folder, *report_path;
  double clock_s; /* Unix time of the next pull */
  double begin_s, weather_hours[3], pressure_pa[3], temperature_k[3], humidity[3];
  int run, number;
  struct ew_day_watch watch;
};

static void say_line(struct day *d, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void say_line(struct day *d, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *line = ew_words_v(format, arguments);
  va_end(arguments);
  if (d->watch.says)
    d->watch.says(line, d->watch.user);
}

/* Weather by the hour of the day: three readings, a straight line between. */
static double weather(const struct day *d, const double values[3]) {
  g_assert(d->clock_s >= d->begin_s);
  double hours = (d->clock_s - d->begin_s) / 3600;
  for (int i = 1; i < 3; i++)
    if (hours <= d->weather_hours[i])
      return values[i - 1] + (values[i] - values[i - 1]) * (hours - d->weather_hours[i - 1]) /
                                 (d->weather_hours[i] - d->weather_hours[i - 1]);
  return values[2];
}

static char *time_text(double unix_s) {
  g_autoptr(GDateTime) time = g_date_time_new_from_unix_utc((gint64)unix_s);
  return g_date_time_format(time, "%Y-%m-%dT%H:%M:%S.000Z");
}

/* A field that this step does not name keeps the value of the step before. */
static void carry(struct step_fields *now, const struct step_fields *step) {
  g_assert(now != step);
  double *to[] = {&now->spark_deg, &now->lambda,     &now->from_rpm,
                  &now->to_rpm,    &now->rate_rpm_s, &now->oil_level_m3};
  const double *from[] = {&step->spark_deg, &step->lambda,     &step->from_rpm,
                          &step->to_rpm,    &step->rate_rpm_s, &step->oil_level_m3};
  for (gsize i = 0; i < G_N_ELEMENTS(to); i++)
    if (!isnan(*from[i]))
      *to[i] = *from[i];
}

static GPtrArray *settings_of(const struct day *d, const struct step_fields *step, double rest_s) {
  GPtrArray *sets = g_ptr_array_new_with_free_func(g_free);
  g_ptr_array_add(sets, ew_exact("spark=%.15g deg", d->now.spark_deg));
  g_ptr_array_add(sets, ew_exact("lambda=%.15g", d->now.lambda));
  g_ptr_array_add(sets, ew_exact("limit=%.15g rpm", d->now.to_rpm));
  g_ptr_array_add(sets, ew_exact("rest=%.15g s", rest_s));
  if (!isnan(d->now.oil_level_m3))
    g_ptr_array_add(sets, ew_exact("oil_level=%.15g L", d->now.oil_level_m3 * 1000));
  if (step->parts)
    g_ptr_array_add(sets, g_strdup_printf("parts=%s", step->parts));
  if (step->seen)
    g_ptr_array_add(sets, g_strdup_printf("seen=%s", step->seen));
  if (step->remark)
    g_ptr_array_add(sets, g_strdup_printf("remark=%s", step->remark));
  g_ptr_array_add(sets, NULL);
  return sets;
}

static void remember(struct day *d, const char *label, gint64 id) {
  if (!label)
    return;
  GPtrArray *ids = g_hash_table_lookup(d->labels, label);
  if (!ids) {
    ids = g_ptr_array_new_with_free_func(g_free);
    g_hash_table_insert(d->labels, g_strdup(label), ids);
  }
  g_ptr_array_add(ids, g_strdup_printf("%" G_GINT64_FORMAT, id));
}

static gboolean write_copy(const struct day *d, const char *name, const GString *text,
                           GError **error) {
  if (!d->folder)
    return TRUE;
  g_autofree char *path = g_build_filename(d->folder, name, NULL);
  g_autoptr(GError) problem = NULL;
  return g_file_set_contents(path, text->str, (gssize)text->len, &problem) ||
         ew_fail(error, "%s", problem->message);
}

static struct ew_practice_pull pull_of(struct day *d, const struct step_fields *step,
                                       gboolean first) {
  return (struct ew_practice_pull){.from_rpm = d->now.from_rpm,
                                   .to_rpm = d->now.to_rpm,
                                   .rate_rpm_s = d->now.rate_rpm_s,
                                   .spark_deg = d->now.spark_deg,
                                   .lambda = d->now.lambda,
                                   .pressure_pa = weather(d, d->pressure_pa),
                                   .temperature_k = weather(d, d->temperature_k),
                                   .humidity = weather(d, d->humidity),
                                   .oil_k = step->oil_k,
                                   .coolant_k = isnan(step->idle_s) ? (double)NAN : step->oil_k,
                                   .hours = (d->clock_s - d->begin_s) / 3600,
                                   .first_after_stop = first,
                                   .oil_low = d->now.oil_level_m3 < -0.0005,
                                   .run = d->run,
                                   .number = d->number,
                                   .idle_s = step->idle_s};
}

static void tell_pull(struct day *d, gint64 id, const struct step_fields *step,
                      const char *changed) {
  struct ew_loaded *l = ew_desk_load_id(&d->desk, id, NULL);
  if (!l)
    return;
  gsize peak = ew_curve_peak(l->curve, l->curve->power_w);
  g_autofree char *line =
      ew_words("pull %-3" G_GINT64_FORMAT
               " %-8s to %#.0f rpm  spark %.0f°  lambda %.2f  %.1f kW at %#.0f  mean %.1f N·m",
               id, ew_tr(step->purpose), l->curve->high_rpm, d->now.spark_deg, d->now.lambda,
               l->curve->power_w[peak] / 1000, l->curve->speed_rpm[peak], l->curve->band_mean_n_m);
  say_line(d, "%s%s%s", line, changed ? "  | " : "", changed ? changed : "");
  ew_loaded_free(l);
}

static gboolean run_once(struct day *d, const struct step_fields *step, int repeat,
                         GError **error) {
  g_assert(repeat >= 0 && repeat < step->repeat);
  gboolean stop = step->after_stop && repeat == 0;
  double rest = repeat == 0 && !isnan(step->rest_s) ? step->rest_s : 180;
  if (stop)
    d->run++;
  d->number++;
  d->clock_s += rest;
  struct ew_practice_pull pull = pull_of(d, step, stop);
  GString *text = ew_practice_record(&d->practice, &d->desk.bench, &pull);
  g_autofree char *name = g_strdup_printf("run-%02d.csv", d->number);
  g_autofree char *at = time_text(d->clock_s);
  gboolean good = write_copy(d, name, text, error);
  g_autoptr(GBytes) bytes = g_string_free_to_bytes(text);
  g_autoptr(GPtrArray) sets = settings_of(d, step, rest);
  struct ew_add_options options = {.sets = (const char *const *)sets->pdata,
                                   .changed = repeat == 0 ? step->changed : NULL,
                                   .purpose = step->purpose,
                                   .at = at,
                                   .after_stop = stop};
  struct ew_added added = {0};
  good = good && ew_add_bytes(&d->desk, bytes, name, &options, &added, error);
  for (guint i = 0; good && i < added.pull_ids->len; i++) {
    gint64 id = g_array_index(added.pull_ids, gint64, i);
    remember(d, step->label, id);
    tell_pull(d, id, step, options.changed);
    if (step->discard)
      good = ew_keep_discard(d->book, id, step->discard, error);
  }
  if (good && added.pull_ids->len == 0)
    say_line(d, "run %-3d  %s without load, %.0f min", d->number, ew_tr(step->purpose),
             step->idle_s / 60);
  d->clock_s += isnan(step->idle_s) ? 30 : step->idle_s;
  ew_added_clear(&added);
  return good;
}

static gboolean run_pulls(struct day *d, const struct ew_node *node, GError **error) {
  struct step_fields step;
  if (!ew_fields_read(&step_fields, node, d->where, NULL, &step, error))
    return FALSE;
  carry(&d->now, &step);
  gboolean good = TRUE;
  for (int i = 0; good && i < step.repeat; i++)
    good = run_once(d, &step, i, error);
  ew_fields_clear(&step_fields, &step);
  return good;
}

static gboolean load_label(struct day *d, const char *label, GPtrArray *into, GError **error) {
  GPtrArray *ids = g_hash_table_lookup(d->labels, label);
  if (!ids)
    return ew_refuse(error, "%s: no pulls are labelled '%s' before this step", d->where, label);
  for (guint i = 0; i < ids->len; i++)
    if (!ew_desk_load(&d->desk, g_ptr_array_index(ids, i), into, error))
      return FALSE;
  return TRUE;
}

static GPtrArray *load_labels(struct day *d, const struct ew_node *list, GError **error) {
  GPtrArray *into = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  for (guint i = 0; i < list->children->len; i++) {
    const struct ew_node *item = g_ptr_array_index(list->children, i);
    if (item->kind != EW_NODE_SCALAR || !load_label(d, item->text, into, error)) {
      g_ptr_array_unref(into);
      return NULL;
    }
  }
  return into;
}

static gboolean ask_compare(struct day *d, const struct ew_node *node, GError **error) {
  if (node->kind != EW_NODE_LIST || node->children->len != 2)
    return ew_refuse(error, "%s, line %u: 'compare' takes two labels: [before, after]", d->where,
                     node->line);
  g_autoptr(GPtrArray) a = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  g_autoptr(GPtrArray) b = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  const char *first = ((struct ew_node *)g_ptr_array_index(node->children, 0))->text;
  const char *second = ((struct ew_node *)g_ptr_array_index(node->children, 1))->text;
  if (!first || !second || !load_label(d, first, a, error) || !load_label(d, second, b, error))
    return FALSE;
  struct ew_question_options options = {
      .margin = NAN, .level = -1, .band_low_rpm = NAN, .band_high_rpm = NAN, .keep = TRUE};
  struct ew_comparison *c = ew_ask_compare(&d->desk, a, b, NULL, NULL, &options, error);
  if (!c)
    return FALSE;
  g_autofree char *line = ew_comparison_line(c);
  say_line(d, "   ? %s against %s: %s", second, first, line);
  g_autoptr(GPtrArray) cautions = ew_messages_texts(c->warnings, EW_UNITS_SI);
  for (guint i = 0; i < cautions->len; i++)
    say_line(d, "       caution: %s", (char *)g_ptr_array_index(cautions, i));
  ew_comparison_free(c);
  return TRUE;
}

static gboolean ask_sweep(struct day *d, const struct ew_node *node, enum ew_sweep_setting setting,
                          GError **error) {
  g_autoptr(GPtrArray) pulls = node->kind == EW_NODE_LIST ? load_labels(d, node, error) : NULL;
  if (!pulls)
    return error && *error
               ? FALSE
               : ew_refuse(error, "%s, line %u: write a list of labels", d->where, node->line);
  struct ew_sweep *s =
      ew_ask_sweep(&d->desk, pulls, setting, NAN, setting == EW_SWEEP_SPARK ? 2 : 0.01, NULL, NULL,
                   0, TRUE, error);
  if (!s)
    return FALSE;
  g_autofree char *reason = ew_message_text(s->reason, EW_UNITS_SI);
  if (setting == EW_SWEEP_SPARK)
    say_line(
        d,
        s->held_by_reserve
            ? EW_TEXT("   ? best spark %.1f° (%.1f to %.1f); use %.1f°, held by the reserve from "
                      "knock; %s")
            : EW_TEXT("   ? best spark %.1f° (%.1f to %.1f); use %.1f°, the least that is enough; "
                      "%s"),
        s->best, s->best_low, s->best_high, s->chosen, reason);
  else
    say_line(d,
             s->bracketed ? EW_TEXT("   ? best lambda %.3f (%.3f to %.3f); %s")
                          : EW_TEXT("   ? best lambda %.3f (%.3f to %.3f), not bracketed; %s"),
             s->best, s->best_low, s->best_high, reason);
  ew_sweep_free(s);
  return TRUE;
}

static gboolean ask_step_up(struct day *d, const struct ew_node *node, GError **error) {
  g_autoptr(GPtrArray) pulls = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  if (!node->text || !load_label(d, node->text, pulls, error))
    return error && *error ? FALSE
                           : ew_refuse(error, "%s, line %u: write a label", d->where, node->line);
  g_assert(pulls->len > 0); /* a label that is known has pulls */
  struct ew_step_up *s =
      ew_ask_step_up(&d->desk, g_ptr_array_index(pulls, pulls->len - 1), NULL, NAN, TRUE, error);
  if (!s)
    return FALSE;
  g_autofree char *says = ew_message_text(s->says, EW_UNITS_SI);
  say_line(d, "   ? the limit after %#.0f: %s", s->limit_rpm, says);
  ew_step_up_free(s);
  return TRUE;
}

static gboolean run_step(struct day *d, const struct ew_node *step, GError **error) {
  if (step->kind != EW_NODE_MAP || step->children->len != 1)
    return ew_refuse(
        error,
        "%s, line %u: a step is one of pull, say, compare, spark_sweep, mixture_sweep, step_up",
        d->where, step->line);
  const struct ew_node *what = g_ptr_array_index(step->children, 0);
  if (strcmp(what->key, "pull") == 0)
    return run_pulls(d, what, error);
  if (strcmp(what->key, "say") == 0 && what->text) {
    say_line(d, "-- %s", what->text);
    return TRUE;
  }
  if (strcmp(what->key, "compare") == 0)
    return ask_compare(d, what, error);
  if (strcmp(what->key, "spark_sweep") == 0)
    return ask_sweep(d, what, EW_SWEEP_SPARK, error);
  if (strcmp(what->key, "mixture_sweep") == 0)
    return ask_sweep(d, what, EW_SWEEP_MIXTURE, error);
  if (strcmp(what->key, "step_up") == 0)
    return ask_step_up(d, what, error);
  return ew_refuse(error, "%s, line %u: '%s' is not a step", d->where, what->line, what->key);
}

struct weather_fields {
  GArray *hours_s, *pressure_pa, *temperature_k, *humidity;
};
static const struct ew_field weather_table[] = {
    {.name = "hours",
     .type = EW_FIELD_NUMBERS,
     .kind = EW_KIND_TIME,
     .offset = offsetof(struct weather_fields, hours_s),
     .help = "times since the beginning"},
    {.name = "pressure",
     .type = EW_FIELD_NUMBERS,
     .kind = EW_KIND_PRESSURE_ABSOLUTE,
     .offset = offsetof(struct weather_fields, pressure_pa),
     .help = "station pressure"},
    {.name = "temperature",
     .type = EW_FIELD_NUMBERS,
     .kind = EW_KIND_TEMPERATURE,
     .offset = offsetof(struct weather_fields, temperature_k),
     .help = "inlet air"},
    {.name = "humidity",
     .type = EW_FIELD_NUMBERS,
     .kind = EW_KIND_RATIO,
     .offset = offsetof(struct weather_fields, humidity),
     .help = "relative humidity"},
};
static const struct ew_fields weather_fields = {EW_TEXT("weather"), sizeof(struct weather_fields),
                                                weather_table, G_N_ELEMENTS(weather_table)};

static gboolean read_weather(struct day *d, const struct ew_node *node, GError **error) {
  struct weather_fields w;
  if (!ew_fields_read(&weather_fields, node, d->where, NULL, &w, error))
    return FALSE;
  const GArray *lists[] = {w.hours_s, w.pressure_pa, w.temperature_k, w.humidity};
  double *into[] = {d->weather_hours, d->pressure_pa, d->temperature_k, d->humidity};
  gboolean good = TRUE;
  for (int k = 0; k < 4; k++)
    good &= lists[k] && lists[k]->len == 3;
  for (int k = 0; good && k < 4; k++)
    for (guint i = 0; i < 3; i++)
      into[k][i] = g_array_index(lists[k], double, i) / (k == 0 ? 3600 : 1);
  ew_fields_clear(&weather_fields, &w);
  return good ||
         ew_refuse(error,
                   "%s: weather needs hours, pressure, temperature and humidity, three values each",
                   d->where);
}

static gboolean store_heads(struct day *d, const struct ew_node *script, GError **error) {
  const struct ew_node *engine = ew_node_member(script, "engine"),
                       *cell = ew_node_member(script, "cell");
  struct ew_engine read;
  struct ew_bench bench;
  if (!engine || !cell)
    return ew_refuse(error,
                     "%s: a day needs engine:, cell:, practice:, weather: and steps:", d->where);
  if (!ew_engine_read(engine, d->where, &read, error))
    return FALSE;
  g_autofree char *yaml = ew_yaml_write(engine); /* as it was typed, for the form on the page */
  g_autofree char *name = g_strdup(read.name ? read.name : "practice engine");
  ew_engine_clear(&read);
  if (!ew_fields_read(&ew_bench_fields, cell, d->where, NULL, &bench, error))
    return FALSE;
  g_autofree char *cell_yaml = ew_fields_write_yaml(&ew_bench_fields, &bench);
  ew_fields_clear(&ew_bench_fields, &bench);
  const struct ew_setting in_cell = {.key = "cell", .value = cell_yaml};
  const struct ew_new_engine new = {
      .name = name, .yaml = yaml, .settings = &in_cell, .settings_count = 1};
  return ew_keep_engine(d->book, &new, error) != 0;
}

static gboolean begin_day(struct day *d, const struct ew_node *script, GError **error) {
  const struct ew_node *practice = ew_node_member(script, "practice"),
                       *sky = ew_node_member(script, "weather");
  const struct ew_node *begin = ew_node_member(script, "begin");
  if (!store_heads(d, script, error) || !ew_desk_open(&d->desk, d->book, error))
    return FALSE;
  if (!practice || !sky)
    return ew_refuse(error,
                     "%s: a day needs engine:, cell:, practice:, weather: and steps:", d->where);
  if (!ew_fields_read(&ew_practice_fields, practice, d->where, NULL, &d->practice, error) ||
      !ew_practice_check(&d->practice, error) || !read_weather(d, sky, error))
    return FALSE;
  d->begin_s = d->clock_s = begin && begin->text ? ew_time_parse(begin->text) : (double)NAN;
  if (isnan(d->begin_s))
    return ew_refuse(error, "%s: 'begin': write a time such as 2026-06-12T08:00:00Z", d->where);
  ew_fields_defaults(&step_fields, &d->now);
  d->now.from_rpm = 2500;
  d->now.rate_rpm_s = 300;
  g_assert(isfinite(d->clock_s));
  return TRUE;
}

gboolean ew_run_day(struct ew_book *book, const struct ew_node *script, const char *where,
                    const char *folder, const char *report_path, const struct ew_day_watch *watch,
                    GError **error) {
  struct day d = {.book = book,
                  .where = where,
                  .folder = folder,
                  .report_path = report_path,
                  .watch = watch ? *watch : (struct ew_day_watch){0}};
  d.labels =
      g_hash_table_new_full(g_str_hash, g_str_equal, g_free, (GDestroyNotify)g_ptr_array_unref);
  const struct ew_node *steps = ew_node_member(script, "steps");
  gboolean good = begin_day(&d, script, error);
  if (good && (!steps || steps->kind != EW_NODE_LIST))
    good = ew_refuse(error, "%s: 'steps:' with a list of steps is missing", where);
  struct ew_steps done = {d.watch.progress, d.watch.user, 0,
                          good ? steps->children->len + (report_path != NULL) : 0};
  for (guint i = 0; good && i < steps->children->len; i++) {
    good = run_step(&d, g_ptr_array_index(steps->children, i), error);
    ew_step(&done);
  }
  if (good && report_path) {
    struct ew_report_options options = {
        .sheet = {.path = report_path, .format = EW_FORMAT_PDF, .paper = -1, .units = -1}};
    good = ew_make_report(&d.desk, &options, error);
    ew_step(&done);
  }
  ew_fields_clear(&step_fields, &d.now);
  ew_practice_clear(&d.practice);
  ew_desk_clear(&d.desk);
  g_hash_table_unref(d.labels);
  return good;
}
