/* A curve's bytes, version EWC4: a mark, then the members of struct ew_curve in a fixed order. Figures
 * are little-endian doubles, counts and flags 64-bit integers, texts a length (their NUL counted; 0: none) and their
 * bytes. What is one of a list is written as its key, so that a list may grow at any place. Warnings are messages, each written as its facts. EWC3 knew no
 * age of the weather; EWC2 wrote their sentences; EWC1 wrote numbers in place of keys too, and is read by the lists of its time (curve_ordinals.h).
 *
 * Reading trusts nothing: each length is held against what is left, each key against its list, each
 * figure against what a curve can be. A curve comes back whole or not at all. */
#include "book/curve_blob.h"
#include "book/curve_ordinals.h"
#include <math.h>
#include <string.h>

#define MARK_ORDINALS  0x45574331u /* "EWC1" */
#define MARK_SENTENCES 0x45574332u /* "EWC2" */
#define MARK_AGELESS   0x45574333u /* "EWC3" */
#define MARK           0x45574334u /* "EWC4" */
#define WEATHER_AGE_THEN_S                                                                         \
  1800.0 /* the default of its field; it was carried forward without end, and not told */
#define SPEED_MOST 1e6 /* rpm: beyond any shaft */

/* One walk serves writing and reading, so that the two cannot drift apart. */
struct walk {
  GByteArray *out;        /* writing */
  const guint8 *at, *end; /* reading */
  gboolean ordinals;      /* the bytes are EWC1 */
  gboolean sentences;     /* or EWC2 */
  gboolean ageless;       /* or EWC3 */
  gboolean failed;
};

static void bytes_of(struct walk *w, void *data, gsize size) {
  if (w->out)
    g_byte_array_append(w->out, data, (guint)size);
  else if ((gsize)(w->end - w->at) < size) {
    w->failed = TRUE;
    memset(data, 0, size);
  } else {
    memcpy(data, w->at, size);
    w->at += size;
  }
}

static void real(struct walk *w, double *value) {
  guint64 bits;
  memcpy(&bits, value, sizeof bits);
  bits = GUINT64_TO_LE(bits);
  bytes_of(w, &bits, sizeof bits);
  if (w->out)
    return;
  bits = GUINT64_FROM_LE(bits);
  memcpy(value, &bits, sizeof bits);
  w->failed |= isinf(*value);
}

static void whole(struct walk *w, gint64 *value) {
  gint64 bits = GINT64_TO_LE(*value);
  bytes_of(w, &bits, sizeof bits);
  *value = GINT64_FROM_LE(bits);
}

static void number(struct walk *w, int *value, int most) {
  gint64 wide = *value;
  whole(w, &wide);
  if (wide < 0 || wide > most) {
    w->failed = TRUE;
    wide = 0;
  }
  *value = (int)wide;
}

static void flag(struct walk *w, gboolean *value) {
  number(w, value, 1);
}

static void size_of(struct walk *w, gsize *value) {
  gint64 wide = (gint64)*value;
  whole(w, &wide);
  if (wide < 0 || wide > 1000000) {
    w->failed = TRUE;
    wide = 0;
  }
  *value = (gsize)wide;
}

static void reals(struct walk *w, double **values, gsize count) {
  if (!w->out && ((gsize)(w->end - w->at) < count * 8)) {
    w->failed = TRUE;
    count = 0;
  }
  if (!w->out)
    *values = g_new0(double, MAX(count, 1));
  for (gsize i = 0; i < count; i++)
    real(w, &(*values)[i]);
}

/* Written, or where it stands in the bytes; NULL: none. */
static const char *text_at(struct walk *w, const char *value) {
  gsize size = w->out && value ? strlen(value) + 1 : 0;
  size_of(w, &size);
  if (w->out) {
    if (size)
      g_byte_array_append(w->out, (const guint8 *)value, (guint)size);
    return value;
  }
  if (size == 0 || (gsize)(w->end - w->at) < size || memchr(w->at, 0, size) != w->at + size - 1 ||
      !g_utf8_validate((const char *)w->at, (gssize)size - 1, NULL)) {
    w->failed |= size != 0;
    return NULL;
  }
  const char *text = (const char *)w->at;
  w->at += size;
  return text;
}

/* Names, of which there are few: they outlive the bytes. */
static void text(struct walk *w, const char **value) {
  const char *at = text_at(w, *value);
  if (!w->out)
    *value = g_intern_string(at);
}

/* What is one of a list. */
struct list {
  const char *const *then; /* in the order of EWC1, NULL-terminated */
  const char *(*key)(int value);
  int count; /* of the keys known today */
};

static const char *standard_key(int value) {
  g_assert(value >= 0 && value < EW_STANDARDS_COUNT);
  return ew_standard_keys[value];
}
static const char *charging_key(int value) {
  return ew_charging_keys[value];
}
static const char *segment_key(int value) {
  return ew_segment_kind_names[value];
}
/* A derived figure is of no channel. */
static const char *channel_key(int value) {
  g_assert(value >= 0 && value <= EW_CHANNELS_COUNT);
  return value == EW_CHANNELS_COUNT ? "derived" : ew_channel_facts[value].key;
}
static const char *kind_key(int value) {
  static const char *const keys[] = {
#define X(name, si, suffix, shown, us, examples) #name,
      EW_KINDS(X)
#undef X
  };
  return keys[value];
}

static const struct list standards = {ew_standards_then, standard_key, EW_STANDARDS_COUNT};
static const struct list chargings = {ew_chargings_then, charging_key, EW_COMPENSATED + 1};
static const struct list segments = {ew_segments_then, segment_key, EW_SEGMENT_POINTS + 1};
static const struct list channels = {ew_channels_then, channel_key, EW_CHANNELS_COUNT + 1};
static const struct list kinds = {ew_kinds_then, kind_key, EW_KINDS_COUNT};

static const char *key_then(struct walk *w, const struct list *list) {
  gint64 ordinal = 0;
  whole(w, &ordinal);
  for (gint64 i = 0; list->then[i]; i++)
    if (i == ordinal)
      return list->then[i];
  return NULL;
}

static void one_of(struct walk *w, int *value, const struct list *list) {
  const char *key = w->out ? list->key(*value) : NULL;
  if (w->ordinals)
    key = key_then(w, list);
  else
    key = text_at(w, key); /* not kept: what is not of the list would stay for ever */
  if (w->out)
    return;
  *value = 0;
  for (int i = 0; key && i < list->count; i++)
    if (strcmp(key, list->key(i)) == 0) {
      *value = i;
      return;
    }
  w->failed = TRUE;
}

/* NULL is an empty text. */
static void message(struct walk *w, ew_message **value) {
  g_autofree char *written = w->out && *value ? ew_message_write(*value) : NULL;
  const char *stored = text_at(w, written);
  if (w->out)
    return;
  *value = !stored        ? NULL
           : w->sentences ? ew_message_of_sentence(stored)
                          : ew_message_read(stored, strlen(stored), NULL);
  w->failed |= stored && !*value;
}

static void messages(struct walk *w, GPtrArray *list) {
  gsize count = w->out ? list->len : 0;
  size_of(w, &count);
  for (gsize i = 0; i < count && !w->failed; i++) {
    ew_message *one = w->out ? g_ptr_array_index(list, i) : NULL;
    message(w, &one);
    if (!w->out)
      ew_messages_add(list, one);
  }
}

/* A figure that EWC3 and before did not have. */
static void later(struct walk *w, double *value, double then) {
  if (w->ageless)
    *value = then;
  else
    real(w, value);
}

static void walk_conditions(struct walk *w, struct ew_conditions *c) {
  double *figures[] = {&c->pressure_pa,   &c->temperature_k, &c->vapour_pa,
                       &c->oil_start_k,   &c->oil_end_k,     &c->coolant_start_k,
                       &c->coolant_end_k, &c->inlet_start_k, &c->inlet_end_k,
                       &c->fuel_k,        &c->rest_s,        &c->acceleration_rpm_s};
  for (gsize i = 0; i < G_N_ELEMENTS(figures); i++)
    real(w, figures[i]);
  later(w, &c->weather_age_s, NAN);
  text(w, &c->pressure_from);
  text(w, &c->temperature_from);
  text(w, &c->humidity_from);
  flag(w, &c->throttle_known);
  flag(w, &c->full_throttle);
}

static void walk_method(struct walk *w, struct ew_method *m) {
  double *figures[] = {&m->grid_step_rpm, &m->half_width_rpm, &m->after_load_rpm, &m->band_low,
                       &m->band_high,     &m->spike_limit,    &m->longest_fill_s};
  for (gsize i = 0; i < G_N_ELEMENTS(figures); i++)
    real(w, figures[i]);
  later(w, &m->weather_age_s, WEATHER_AGE_THEN_S);
  one_of(w, &m->standard, &standards);
  one_of(w, &m->charging, &chargings);
  flag(w, &m->engine_inertia);
}

static void walk_columns(struct walk *w, struct ew_curve *c) {
  gsize count = c->columns->len;
  size_of(w, &count);
  for (gsize i = 0; i < count && !w->failed; i++) {
    struct ew_curve_column column = {0};
    if (w->out)
      column = g_array_index(c->columns, struct ew_curve_column, i);
    int channel = (int)column.channel, kind = (int)column.kind;
    one_of(w, &channel, &channels);
    number(w, &column.index, 1000);
    one_of(w, &kind, &kinds);
    text(w, &column.key);
    reals(w, &column.values, c->points);
    reals(w, &column.se, c->points);
    if (w->out)
      continue;
    column.channel = (enum ew_channel)channel;
    column.kind = (enum ew_kind)kind;
    w->failed |= !column.key;
    if (!column.key)
      column.key = "";
    g_array_append_val(c->columns, column);
  }
}

static void walk_curve(struct walk *w, struct ew_curve *c) {
  int kind = (int)c->kind;
  one_of(w, &kind, &segments);
  c->kind = (enum ew_segment_kind)kind;
  size_of(w, &c->points);
  double **arrays[] = {&c->speed_rpm,    &c->torque_n_m,  &c->torque_se_n_m,      &c->power_w,
                       &c->observed_n_m, &c->inertia_n_m, &c->engine_inertia_n_m, &c->samples};
  for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
    reals(w, arrays[i], c->points);
  size_of(w, &c->raw_points);
  reals(w, &c->raw_speed_rpm, c->raw_points);
  reals(w, &c->raw_torque_n_m, c->raw_points);
  walk_columns(w, c);
  walk_conditions(w, &c->conditions);
  real(w, &c->factor.factor);
  real(w, &c->factor.dry_pressure_pa);
  flag(w, &c->factor.in_range);
  message(w, &c->out_of_range);
  walk_method(w, &c->method);
  gsize *counts[] = {&c->cleaned.spikes, &c->cleaned.dropouts, &c->cleaned.flat,
                     &c->cleaned.saturated, &c->cleaned.lost};
  for (gsize i = 0; i < G_N_ELEMENTS(counts); i++)
    size_of(w, counts[i]);
  double *figures[] = {&c->noise_sd,      &c->noise_correlation, &c->band_low_rpm,
                       &c->band_high_rpm, &c->band_mean_n_m,     &c->band_mean_se,
                       &c->low_rpm,       &c->high_rpm,          &c->start_s,
                       &c->end_s,         &c->tail_scatter,      &c->knock_count,
                       &c->knock_near_rpm};
  for (gsize i = 0; i < G_N_ELEMENTS(figures); i++)
    real(w, figures[i]);
  messages(w, c->warnings);
}

GBytes *ew_curve_to_bytes(const struct ew_curve *curve) {
  struct walk w = {.out = g_byte_array_new()};
  gint64 mark = MARK;
  whole(&w, &mark);
  struct ew_curve same = *curve; /* a walk that writes changes nothing */
  walk_curve(&w, &same);
  return g_byte_array_free_to_bytes(w.out);
}

static gboolean is_speed(double speed_rpm) {
  return speed_rpm >= 0 && speed_rpm <= SPEED_MOST;
}

static gboolean is_method(const struct ew_method *method) {
  gboolean good = TRUE;
  for (gsize i = 0; i < ew_method_fields.count; i++) {
    const struct ew_field *f = &ew_method_fields.fields[i];
    double value;
    if (f->type != EW_FIELD_QUANTITY)
      continue;
    memcpy(&value, (const char *)method + f->offset, sizeof value);
    good = good && value >= f->minimum && value <= f->maximum;
  }
  return good;
}

/* What every reader of a curve takes for granted. */
static gboolean is_curve(const struct ew_curve *c) {
  gboolean good = c->points > 0 && is_method(&c->method) && is_speed(c->low_rpm) &&
                  is_speed(c->high_rpm) && c->factor.factor > 0;
  for (gsize i = 0; good && i < c->points; i++)
    good = is_speed(c->speed_rpm[i]) && (i == 0 || c->speed_rpm[i] >= c->speed_rpm[i - 1]);
  for (gsize i = 0; good && i < c->raw_points; i++)
    good = is_speed(c->raw_speed_rpm[i]);
  return good;
}

struct ew_curve *ew_curve_from_bytes(const void *bytes, gsize size) {
  struct walk w = {.at = bytes, .end = (const guint8 *)bytes + size};
  gint64 mark = 0;
  whole(&w, &mark);
  if (mark != MARK && mark != MARK_AGELESS && mark != MARK_SENTENCES && mark != MARK_ORDINALS)
    return NULL;
  w.ordinals = mark == MARK_ORDINALS;
  w.sentences = w.ordinals || mark == MARK_SENTENCES;
  w.ageless = mark != MARK;
  struct ew_curve *curve = g_new0(struct ew_curve, 1);
  curve->columns = g_array_new(FALSE, FALSE, sizeof(struct ew_curve_column));
  curve->warnings = ew_messages_new();
  walk_curve(&w, curve);
  if (!w.failed && w.at == w.end && is_curve(curve))
    return curve;
  ew_curve_free(curve);
  return NULL;
}

gboolean ew_curve_has_bytes(const struct ew_curve *curve, GBytes *bytes) {
  gsize size;
  const void *data = g_bytes_get_data(bytes, &size);
  struct ew_curve *stored = ew_curve_from_bytes(data, size);
  if (!stored)
    return FALSE;
  g_autoptr(GBytes) now = ew_curve_to_bytes(curve), then = ew_curve_to_bytes(stored);
  ew_curve_free(stored);
  return g_bytes_equal(now, then);
}
