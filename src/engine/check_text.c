/* What follows from an engine's file, as text for a person, section by section. */
#include "base/elementary.h"
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
  if (kind == EW_KIND_LENGTH) /* no finer than a micrometer */
    decimals = MIN(decimals, system == EW_UNITS_US ? 4 : 3);
  if (kind == EW_KIND_VOLUME && system == EW_UNITS_SI)
    decimals = MIN(decimals, 2);
  return ew_quantity_format(kind, system, kind == EW_KIND_TEMPERATURE ? value : inside,
                            CLAMP(decimals, 0, 4));
}

/* Figures without a kind of their own are SI in JSON; on paper they stand in the unit that is read
 * off a dial. */
static const struct {
  const char *si, *read;
  double factor;
} read_as[] = {{", m/rad", ", mm/rad", 1e3}, {", m2 deg", ", cm2 deg", 1e4}};

static char *label_of(const struct ew_figure *f, double *factor) {
  *factor = 1;
  for (gsize i = 0; f->kind == EW_KIND_NUMBER && i < G_N_ELEMENTS(read_as); i++) {
    const char *at = strstr(f->label, read_as[i].si);
    if (!at)
      continue;
    *factor = read_as[i].factor;
    return g_strdup_printf("%.*s%s%s", (int)(at - f->label), f->label, read_as[i].read,
                           at + strlen(read_as[i].si));
  }
  return g_strdup(f->label);
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
  g_string_append_printf(text, "  %-42s ", label);
  gsize count = all_alike(f) ? 1 : f->count;
  for (gsize i = 0; i < count; i++) {
    g_autofree char *one = shown(f->kind, system, factor * f->values[i], figures_of(f->confidence));
    g_string_append_printf(text, "%s%s", i ? ", " : "", one);
  }
  if (all_alike(f))
    g_string_append_printf(text, " (all %zu)", f->count);
  g_string_append_printf(text, "  [%s]\n", ew_confidence_word(f->confidence));
}

/* Sections in the order in which they first appear, each with all its figures. */
static void append_sections(GString *text, const struct ew_engine_check *check,
                            enum ew_unit_system system) {
  g_autoptr(GHashTable) done = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < check->figures->len; i++) {
    const char *section = g_array_index(check->figures, struct ew_figure, i).section;
    if (!g_hash_table_add(done, (gpointer)section))
      continue;
    g_string_append_printf(text, "\n%s\n", section);
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
    g_string_append(text, "\nValve events\n");
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
  return deg < 0 ? "BTDC" : "ATDC";
}

static void append_clearance(GString *text, const struct ew_engine_check *check,
                             enum ew_unit_system system) {
  if (check->has_clearance[0] || check->has_clearance[1])
    g_string_append(text, "\nValve to piston\n");
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
                    ew_side_name(side), a, fabs(running->at_deg), after(running->at_deg), b,
                    fabs(zero->at_deg), after(zero->at_deg));
  }
}

static void append_barred(GString *text, const struct ew_engine_check *check) {
  if (check->barred_count)
    g_string_append(text, "\nCritical speeds of the shaft line  [estimate]\n");
  for (gsize i = 0; i < check->barred_count; i++) {
    const struct ew_barred_range *r = &check->barred[i];
    ew_words_append(text, "  order %-4.3g %6.0f rpm, keep out of %.0f to %.0f%s\n", r->order,
                    r->critical_rpm, r->from_rpm, r->to_rpm,
                    r->strong ? "" : " (only when cylinders differ)");
  }
}

static void append_warnings(GString *text, const struct ew_engine_check *check) {
  if (check->warnings->len == 0)
    g_string_append(text, "\nNothing to warn of in the figures given.\n");
  for (int grade = EW_DANGER; grade >= EW_NOTE; grade--)
    for (guint i = 0; i < check->warnings->len; i++) {
      const struct ew_warning *w = &g_array_index(check->warnings, struct ew_warning, i);
      if ((int)w->grade == grade)
        g_string_append_printf(text, "\n%s (%s): %s\n", ew_warning_word(w->grade), w->field,
                               w->text);
    }
}

static void append_left_out(GString *text, const struct ew_engine_check *check) {
  if (check->left_out->len)
    g_string_append(text, "\nNot worked out\n");
  for (guint i = 0; i < check->left_out->len; i++) {
    const struct ew_left_out *l = &g_array_index(check->left_out, struct ew_left_out, i);
    g_string_append_printf(text, "  %s: needs %s\n", l->figure, l->needs);
  }
}

char *ew_engine_check_text(const struct ew_engine *engine, enum ew_unit_system system) {
  struct ew_engine_check *check = ew_engine_check_new(engine);
  GString *text = g_string_new(engine->name ? engine->name : "An engine without a name");
  g_string_append_c(text, '\n');
  append_warnings(text, check);
  append_sections(text, check, system);
  append_events(text, check, system);
  append_clearance(text, check, system);
  append_barred(text, check);
  if (check->has_fuel_verdict)
    g_string_append_printf(text, "\nFuel check: %s  [rule of thumb, for ranking only]\n",
                           ew_fuel_grade_name(check->fuel.grade));
  append_left_out(text, check);
  ew_engine_check_free(check);
  return g_string_free(text, FALSE);
}
