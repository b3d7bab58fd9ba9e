#include "book/curve_blob.h"
#include <math.h>
#include <string.h>

#define MARK 0x45574331u /* "EWC1" */

/* One walk serves writing and reading, so that the two cannot drift apart. */
struct walk {
  GByteArray *out;        /* writing */
  const guint8 *at, *end; /* reading */
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
  bits = GUINT64_FROM_LE(bits);
  memcpy(value, &bits, sizeof bits);
}

static void whole(struct walk *w, gint64 *value) {
  gint64 bits = GINT64_TO_LE(*value);
  bytes_of(w, &bits, sizeof bits);
  *value = GINT64_FROM_LE(bits);
}

static void number(struct walk *w, int *value) {
  gint64 wide = *value;
  whole(w, &wide);
  *value = (int)wide;
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

static void text(struct walk *w, const char **value) {
  gsize size = w->out && *value ? strlen(*value) + 1 : 0;
  size_of(w, &size);
  if (w->out) {
    if (size)
      g_byte_array_append(w->out, (const guint8 *)*value, (guint)size);
  } else if (size == 0 || (gsize)(w->end - w->at) < size || w->at[size - 1] != 0) {
    w->failed |= size != 0;
    *value = NULL;
  } else {
    *value = g_intern_string((const char *)w->at);
    w->at += size;
  }
}

static void texts(struct walk *w, GPtrArray *list) {
  gsize count = w->out ? list->len : 0;
  size_of(w, &count);
  for (gsize i = 0; i < count && !w->failed; i++) {
    const char *one = w->out ? g_ptr_array_index(list, i) : NULL;
    text(w, &one);
    if (!w->out)
      g_ptr_array_add(list, g_strdup(one ? one : ""));
  }
}

static void walk_conditions(struct walk *w, struct ew_conditions *c) {
  double *figures[] = {&c->pressure_pa,   &c->temperature_k, &c->vapour_pa,
                       &c->oil_start_k,   &c->oil_end_k,     &c->coolant_start_k,
                       &c->coolant_end_k, &c->inlet_start_k, &c->inlet_end_k,
                       &c->fuel_k,        &c->rest_s,        &c->acceleration_rpm_s};
  for (gsize i = 0; i < G_N_ELEMENTS(figures); i++)
    real(w, figures[i]);
  text(w, &c->pressure_from);
  text(w, &c->temperature_from);
  text(w, &c->humidity_from);
  number(w, &c->throttle_known);
  number(w, &c->full_throttle);
}

static void walk_method(struct walk *w, struct ew_method *m) {
  double *figures[] = {&m->grid_step_rpm, &m->half_width_rpm, &m->after_load_rpm, &m->band_low,
                       &m->band_high,     &m->spike_limit,    &m->longest_fill_s};
  for (gsize i = 0; i < G_N_ELEMENTS(figures); i++)
    real(w, figures[i]);
  number(w, &m->standard);
  number(w, &m->charging);
  number(w, &m->engine_inertia);
}

static void walk_columns(struct walk *w, struct ew_curve *c) {
  gsize count = c->columns->len;
  size_of(w, &count);
  for (gsize i = 0; i < count && !w->failed; i++) {
    struct ew_curve_column column = {0};
    if (w->out)
      column = g_array_index(c->columns, struct ew_curve_column, i);
    int channel = (int)column.channel, kind = (int)column.kind;
    number(w, &channel);
    number(w, &column.index);
    number(w, &kind);
    text(w, &column.key);
    reals(w, &column.values, c->points);
    reals(w, &column.se, c->points);
    if (w->out)
      continue;
    column.channel = (enum ew_channel)CLAMP(channel, 0, EW_CHANNELS_COUNT);
    column.kind = (enum ew_kind)CLAMP(kind, 0, EW_KINDS_COUNT - 1);
    if (!column.key)
      column.key = "";
    g_array_append_val(c->columns, column);
  }
}

static void walk_curve(struct walk *w, struct ew_curve *c) {
  int kind = (int)c->kind;
  number(w, &kind);
  c->kind = (enum ew_segment_kind)CLAMP(kind, 0, 2);
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
  number(w, &c->factor.in_range);
  text(w, &c->factor.why_not);
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
  texts(w, c->warnings);
}

GBytes *ew_curve_to_bytes(const struct ew_curve *curve) {
  struct walk w = {.out = g_byte_array_new()};
  gint64 mark = MARK;
  whole(&w, &mark);
  walk_curve(&w, (struct ew_curve *)curve); /* writing changes nothing */
  return g_byte_array_free_to_bytes(w.out);
}

struct ew_curve *ew_curve_from_bytes(const void *bytes, gsize size) {
  struct walk w = {.at = bytes, .end = (const guint8 *)bytes + size};
  gint64 mark = 0;
  whole(&w, &mark);
  if (mark != MARK)
    return NULL;
  struct ew_curve *curve = g_new0(struct ew_curve, 1);
  curve->columns = g_array_new(FALSE, FALSE, sizeof(struct ew_curve_column));
  curve->warnings = g_ptr_array_new_with_free_func(g_free);
  walk_curve(&w, curve);
  if (!w.failed && w.at == w.end)
    return curve;
  ew_curve_free(curve);
  return NULL;
}
