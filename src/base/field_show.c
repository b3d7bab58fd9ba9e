/* A record as people read it: figures with as many digits as the trade writes, a template to start a file from, a table of the
 * manual. Nothing here is read back. */
#include "base/field_parts.h"
#include "base/as_pointer.h"
#include "base/language.h"
#include "base/number.h"
#include "base/words.h"
#include <math.h>
#include <string.h>

static int decimals_for(enum ew_kind kind, enum ew_unit_system system, double shown) {
  if (kind == EW_KIND_ROTATIONAL_SPEED || kind == EW_KIND_COUNT)
    return 0;
  double size = fabs(shown);
  if (kind == EW_KIND_LENGTH && system == EW_UNITS_US)
    return size >= 0.1 || size == 0 ? 3 : 4; /* thousandths of an inch, and tenths of one */
  if (size >= 100) /* what was typed with two decimals, such as 1013.25 hPa, keeps them */
    return fabs(100 * shown - round(100 * shown)) < 1e-6 ? 2 : 1;
  if (size >= 1 || size == 0)
    return 2;
  return MIN(2 - (int)floor(log10(size)), 9); /* three figures that count, however small */
}

/* No more decimals than the figure needs. */
static int short_decimals(enum ew_kind kind, enum ew_unit_system system, double shown) {
  int decimals = decimals_for(kind, system, shown);
  while (decimals > 0 && fabs(shown * pow(10, decimals - 1) -
                              round(shown * pow(10, decimals - 1))) <= 1e-6 * fmin(1, fabs(shown)))
    decimals--;
  return decimals;
}

/* Whole minutes and hours are shown as such. */
static char *show_time(double seconds) {
  const char *unit = seconds >= 3600 ? "h" : "min";
  double count = seconds / (seconds >= 3600 ? 3600 : 60);
  return seconds >= 60 && fabs(20 * count - round(20 * count)) < 1e-9
             ? ew_words("%.4g %s", count, unit)
             : NULL;
}

/* A car, and the limits of one, in kilograms; a piston in grams, as a balance reads. */
#define WEIGHED_KG 10.0
static char *show_mass(enum ew_unit_system system, double mass_kg) {
  return system == EW_UNITS_SI && fabs(mass_kg) >= WEIGHED_KG ? ew_words("%.10g %s", mass_kg, "kg")
                                                              : NULL;
}

char *ew_figure_short(enum ew_kind kind, enum ew_unit_system system, double value) {
  char *own = kind == EW_KIND_TIME   ? show_time(value)
              : kind == EW_KIND_MASS ? show_mass(system, value)
                                     : NULL;
  if (own)
    return own;
  system = ew_units_usual(kind, system, value);
  int decimals = short_decimals(kind, system, ew_shown(kind, system, value));
  return ew_quantity_format(kind, system, value, decimals);
}

/* "44.0, 44.1, 45.1 cc": the unit once, every figure with the digits of the longest. */
static char *show_list(const struct ew_field *field, const GArray *list,
                       enum ew_unit_system system) {
  int decimals = 0;
  if (list->len)
    system = ew_units_usual(field->kind, system, g_array_index(list, double, 0));
  for (guint i = 0; i < list->len; i++)
    decimals = MAX(decimals,
                   short_decimals(field->kind, system,
                                  ew_shown(field->kind, system, g_array_index(list, double, i))));
  GString *text = g_string_new(NULL);
  for (guint i = 0; i + 1 < list->len; i++) {
    char figure[EW_NUMBER_SIZE];
    double shown = ew_shown(field->kind, system, g_array_index(list, double, i));
    g_string_append_printf(text, "%s, ", ew_number_shown(shown, decimals, figure));
  }
  if (list->len) {
    double last = g_array_index(list, double, list->len - 1);
    g_autofree char *with_unit = ew_quantity_format(field->kind, system, last, decimals);
    g_string_append(text, with_unit);
  }
  return g_string_free(text, FALSE);
}

char *ew_field_show(const struct ew_field *field, const void *record, enum ew_unit_system system) {
  if (!ew_field_has_value(field, record))
    return NULL;
  switch (field->type) {
  case EW_FIELD_QUANTITY:
    return ew_figure_short(field->kind, system, EW_FIELD_OF(double, record, field));
  case EW_FIELD_INTEGER: return g_strdup_printf("%d", EW_FIELD_OF(int, record, field));
  case EW_FIELD_BOOLEAN:
    return g_strdup(EW_FIELD_OF(gboolean, record, field) ? ew_tr("yes") : ew_tr("no"));
  case EW_FIELD_TEXT: return g_strdup(EW_FIELD_OF(char *, record, field));
  case EW_FIELD_CHOICE: return g_strdup(ew_tr(field->choices[EW_FIELD_OF(int, record, field)]));
  case EW_FIELD_NUMBERS: return show_list(field, EW_FIELD_OF(GArray *, record, field), system);
  case EW_FIELD_CHOICES: return ew_field_words(field, record);
  }
  return NULL;
}

char *ew_field_typed(const struct ew_field *field, const void *record) {
  const ew_language *readers = ew_language_of_thread(ew_language_english());
  char *text = ew_field_show(field, record, EW_UNITS_SI);
  ew_language_of_thread(readers);
  return text;
}

static char *example_of(const struct ew_field *field) {
  if (field->fallback)
    return g_strdup(field->fallback);
  if (field->example)
    return g_strdup(field->example);
  switch (field->type) {
  case EW_FIELD_INTEGER: return g_strdup("1");
  case EW_FIELD_BOOLEAN: return g_strdup("no");
  case EW_FIELD_TEXT: return g_strdup("\"\"");
  case EW_FIELD_CHOICE: return g_strdup(field->choices[0]);
  case EW_FIELD_CHOICES: return g_strdup_printf("[%s]", field->choices[0]);
  case EW_FIELD_QUANTITY:
  case EW_FIELD_NUMBERS: break;
  }
  g_auto(GStrv) examples = g_strsplit(ew_kind_examples(field->kind), ", ", 2);
  return field->type == EW_FIELD_NUMBERS ? g_strdup_printf("[%s]", examples[0])
                                         : g_strdup(examples[0]);
}

char *ew_fields_template(const struct ew_fields *table) {
  GString *text = g_string_new(NULL);
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    g_autofree char *example = example_of(field);
    if (field->section)
      g_string_append_printf(text, "%s# --- %s\n", i ? "\n" : "", ew_tr(field->section));
    g_string_append_printf(text, "# %s%s%s%s\n", ew_tr(field->help), field->origin ? " (" : "",
                           field->origin ? ew_tr(field->origin) : "", field->origin ? ")" : "");
    g_string_append_printf(text, "%s%s: %s\n", field->fallback ? "" : "# ", field->name, example);
  }
  return g_string_free(text, FALSE);
}

char *ew_fields_manual(const struct ew_fields *table) {
  GString *text = g_string_new(NULL);
  ew_words_append(text, "| field | measures | range | default | meaning |");
  g_string_append(text, "\n|---|---|---|---|---|\n");
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    g_autofree char *range = g_strdup("");
    if (field->minimum != 0 || field->maximum != 0) {
      g_autofree char *low = ew_quantity_format(field->kind, EW_UNITS_SI, field->minimum, 2);
      g_autofree char *high = ew_quantity_format(field->kind, EW_UNITS_SI, field->maximum, 2);
      g_free(range);
      range = ew_words("%s to %s", low, high);
    }
    g_autofree char *choices = field->type == EW_FIELD_CHOICE || field->type == EW_FIELD_CHOICES
                                   ? g_strjoinv(", ", ew_as_pointer(field->choices))
                                   : NULL;
    const char *measures = choices                           ? choices
                           : field->type == EW_FIELD_TEXT    ? ew_tr("text")
                           : field->type == EW_FIELD_BOOLEAN ? ew_tr("yes or no")
                                                             : ew_kind_title(field->kind);
    g_string_append_printf(text, "| `%s` | %s | %s | %s | %s%s%s%s |\n", field->name, measures,
                           range, field->fallback ? field->fallback : "", ew_tr(field->help),
                           field->origin ? " (" : "", field->origin ? ew_tr(field->origin) : "",
                           field->origin ? ")" : "");
  }
  return g_string_free(text, FALSE);
}
