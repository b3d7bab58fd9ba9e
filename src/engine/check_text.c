/* What follows from an engine's file, as text for a person, section by section. */
#include "base/elementary.h"
#include "base/as_pointer.h"
#include "base/language.h"
#include "base/words.h"
#include "engine/check.h"
#include <math.h>
#include <string.h>

/* How many figures count: arithmetic is as good as the file, a model is not, a rule of thumb less. */
static int figures_of(enum ew_confidence confidence) {
  return confidence == EW_EXACT ? 4 : confidence == EW_ESTIMATE ? 3 : 2;
}

static double rounded(double value, int figures) {
  if (value == 0 || !isfinite(value))
    return value;
  double step = ew_pow(10, floor(ew_log10(fabs(value))) + 1 - figures);
  return step < 1 ? value : step * round(value / step);
}

static char *shown(enum ew_kind kind, enum ew_unit_system system, double value, int figures) {
  /* chambers are measured in cc and parts weighed in grams everywhere */
  if ((kind == EW_KIND_VOLUME && fabs(value) < 2e-4) || (kind == EW_KIND_MASS && fabs(value) < 5))
    system = EW_UNITS_SI;
  double size = fabs(ew_shown(kind, system, value));
  int decimals = size > 1e-6 ? figures - 1 - (int)floor(ew_log10(size)) : 0;
  double inside = size > 0 ? value * rounded(size, figures) / size : value;
  if (kind == EW_KIND_NUMBER)
    return ew_words("%.*f", CLAMP(decimals, 0, 4), inside);
  if (kind == EW_KIND_ANGLE)
    decimals = figures > 2 ? 1 : 0;
  if (kind == EW_KIND_ROTATIONAL_SPEED)
    decimals = 0;
  if (kind == EW_KIND_LENGTH && system != EW_UNITS_US) /* no finer than a micrometer */
    decimals = MIN(decimals, 3);
  if (kind == EW_KIND_VOLUME && system == EW_UNITS_SI)
    decimals = MIN(decimals, 2);
  return ew_quantity_format(kind, system, kind == EW_KIND_TEMPERATURE ? value : inside,
                            CLAMP(decimals, 0, 4));
}

/* A figure without a kind of its own is SI in JSON; on paper it has the unit that is read off a dial. */
static char *label_of(const struct ew_figure *f, double *factor) {
  *factor = f->read ? f->factor : 1;
  const char *unit = f->read ? f->read : f->si;
  return unit ? ew_words("%s, %s", ew_tr(f->label), unit) : g_strdup(ew_tr(f->label));
}

static gboolean all_alike(const struct ew_figure *f) {
  for (gsize i = 1; i < f->count; i++)
    if (fabs(f->values[i] - f->values[0]) > 1e-9 * fabs(f->values[0]))
      return FALSE;
  return f->count > 1;
}

static void append_figure(GString *text, const struct ew_figure *f, enum ew_unit_system system) {
  double factor;
  g_autofree char *label = label_of(f, &factor);
  int pad = MAX(42 - (int)g_utf8_strlen(label, -1), 0); /* printf counts bytes */
  g_string_append_printf(text, "  %s%*s ", label, pad, "");
  gsize count = all_alike(f) ? 1 : f->count;
  for (gsize i = 0; i < count; i++) {
    g_autofree char *one = shown(f->kind, system, factor * f->values[i], figures_of(f->confidence));
    g_string_append_printf(text, "%s%s", i ? ", " : "", one);
  }
  if (all_alike(f))
    ew_words_append(text, " (all %zu)", f->count);
  g_string_append_printf(text, "  [%s]\n", ew_tr(ew_confidence_word(f->confidence)));
}

/* Sections in the order in which they first appear, each with all its figures. */
static void append_sections(GString *text, const struct ew_engine_check *check,
                            enum ew_unit_system system) {
  g_autoptr(GHashTable) done = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < check->figures->len; i++) {
    const char *section = g_array_index(check->figures, struct ew_figure, i).section;
    if (!g_hash_table_add(done, ew_as_pointer(section)))
      continue;
    g_string_append_printf(text, "\n%s\n", ew_tr(section));
    for (guint j = i; j < check->figures->len; j++) {
      const struct ew_figure *f = &g_array_index(check->figures, struct ew_figure, j);
      if (strcmp(f->section, section) == 0)
        append_figure(text, f, system);
    }
  }
}

static void append_events(GString *text, const struct ew_engine_check *check,
                          enum ew_unit_system system) {
  if (check->has_events[0] || check->has_events[1])
    ew_words_append(text, "\nValve events\n");
  for (int i = 0; i < 2; i++) {
    const struct ew_valve_events *e = &check->events[i];
    if (!check->has_events[i])
      continue;
    g_autofree char *lift = shown(EW_KIND_LENGTH, system, e->lift_m, 3);
    ew_words_append(text,
                    "  at %s of lobe lift: inlet %.1f BTDC to %.1f ABDC, exhaust %.1f BBDC "
                    "to %.1f ATDC, overlap %.1f deg  [exact]\n",
                    lift, e->inlet_opens_btdc_deg, e->inlet_closes_abdc_deg,
                    e->exhaust_opens_bbdc_deg, e->exhaust_closes_atdc_deg, e->overlap_deg);
  }
}

static const char *after(double deg) {
  return deg < 0 ? ew_tr(EW_TEXT("BTDC")) : ew_tr(EW_TEXT("ATDC"));
}

static void append_clearance(GString *text, const struct ew_engine_check *check,
                             enum ew_unit_system system) {
  if (check->has_clearance[0] || check->has_clearance[1])
    ew_words_append(text, "\nValve to piston\n");
  for (int side = 0; side < 2; side++) {
    if (!check->has_clearance[side])
      continue;
    const struct ew_valve_clearance *zero = &check->clearance_zero[side];
    const struct ew_valve_clearance *running = &check->clearance_running[side];
    g_autofree char *a = shown(EW_KIND_LENGTH, system, running->minimum_m, 3);
    g_autofree char *b = shown(EW_KIND_LENGTH, system, zero->minimum_m, 3);
    ew_words_append(text,
                    "  %s: least %s at %.0f deg %s with running lash, %s at %.0f deg %s with "
                    "none  [estimate]\n",
                    ew_tr(ew_side_name(side)), a, fabs(running->at_deg), after(running->at_deg), b,
                    fabs(zero->at_deg), after(zero->at_deg));
  }
}

static void append_barred(GString *text, const struct ew_engine_check *check) {
  if (check->barred_count)
    ew_words_append(text, "\nCritical speeds of the shaft line  [estimate]\n");
  for (gsize i = 0; i < check->barred_count; i++) {
    const struct ew_barred_range *r = &check->barred[i];
    if (r->strong)
      ew_words_append(text, "  order %-4.3g %#6.0f rpm, keep out of %#.0f to %#.0f\n", r->order,
                      r->critical_rpm, r->from_rpm, r->to_rpm);
    else
      ew_words_append(text,
                      "  order %-4.3g %#6.0f rpm, keep out of %#.0f to %#.0f (only when cylinders "
                      "differ)\n",
                      r->order, r->critical_rpm, r->from_rpm, r->to_rpm);
  }
}

static void append_warnings(GString *text, const struct ew_engine_check *check,
                            enum ew_unit_system system) {
  if (check->warnings->len == 0)
    ew_words_append(text, "\nNo warnings about the figures given.\n");
  for (int severity = EW_DANGER; severity >= EW_NOTE; severity--)
    for (guint i = 0; i < check->warnings->len; i++) {
      const ew_message *w = g_ptr_array_index(check->warnings, i);
      if ((int)ew_message_severity(w) != severity)
        continue;
      g_autofree char *says = ew_message_text(w, system);
      g_string_append_printf(text, "\n%s (%s): %s\n", ew_tr(ew_severity_words[severity]),
                             ew_message_subject(w), says);
    }
}

static void append_left_out(GString *text, const struct ew_engine_check *check,
                            enum ew_unit_system system) {
  if (check->left_out->len)
    ew_words_append(text, "\nNot worked out\n");
  for (guint i = 0; i < check->left_out->len; i++) {
    g_autofree char *says = ew_message_text(g_ptr_array_index(check->left_out, i), system);
    g_string_append_printf(text, "  %s\n", says);
  }
}

char *ew_engine_check_text(const struct ew_engine *engine, enum ew_unit_system system) {
  struct ew_engine_check *check = ew_engine_check_new(engine);
  GString *text =
      g_string_new(engine->name ? engine->name : ew_tr(EW_TEXT("An engine without a name")));
  g_string_append_c(text, '\n');
  append_warnings(text, check, system);
  append_sections(text, check, system);
  append_events(text, check, system);
  append_clearance(text, check, system);
  append_barred(text, check);
  if (check->has_fuel_verdict)
    ew_words_append(text, "\nFuel check: %s  [rule of thumb, for ranking only]\n",
                    ew_tr(ew_fuel_grade_name(check->fuel.grade)));
  append_left_out(text, check, system);
  ew_engine_check_free(check);
  return g_string_free(text, FALSE);
}
