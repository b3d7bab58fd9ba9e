/* A unit that a heading writes behind a blank ("Oil P psi", "Torque lb ft"), or that is all of it ("hp"), and a tachometer's
 * "x1000". Such a word is a unit only where it measures what the rest of the heading names: "Air Temp In" is not in inches,
 * "Oil Pressure min" not in minutes. Headings of loggers as they are written; common practice, no source. */
#include "pull/series_parts.h"
#include <string.h>

static gboolean one_of(const char *word, const char *const *words, gsize count) {
  for (gsize i = 0; i < count; i++)
    if (g_ascii_strcasecmp(word, words[i]) == 0)
      return TRUE;
  return FALSE;
}

/* Units that headings leave to their last words. Of times only those of a logger's clock: "time of day" is not in days. */
static gboolean may_be(const char *word, enum ew_kind kind) {
  static const char *const times[] = {"s", "sec", "secs", "seconds", "ms", "msec"};
  static const enum ew_kind whole[] = {EW_KIND_ROTATIONAL_SPEED,
                                       EW_KIND_TORQUE,
                                       EW_KIND_POWER,
                                       EW_KIND_PRESSURE_GAUGE,
                                       EW_KIND_PRESSURE_ABSOLUTE,
                                       EW_KIND_MASS_FLOW,
                                       EW_KIND_VOLUME_FLOW,
                                       EW_KIND_SPECIFIC_FUEL,
                                       EW_KIND_MEAN_EFFECTIVE_PRESSURE,
                                       EW_KIND_ANGLE};
  if (kind == EW_KIND_TEMPERATURE)
    return strlen(word) > 1 || strchr("FfCcK", *word);
  if (kind == EW_KIND_RATIO)
    return strchr(word, '%') || g_ascii_strcasecmp(word, "pct") == 0;
  if (kind == EW_KIND_TIME)
    return one_of(word, times, G_N_ELEMENTS(times));
  for (gsize i = 0; i < G_N_ELEMENTS(whole); i++)
    if (kind == whole[i])
      return strlen(word) > 1 && g_ascii_strcasecmp(word, "at") != 0;
  return FALSE;
}

static gboolean is_unit(const char *text, enum ew_kind kind, struct ew_unit *unit) {
  return *text && may_be(text, kind) && ew_unit_parse("", text, kind, unit, NULL);
}

char *ew_heading_unit(const char *name, enum ew_kind kind, struct ew_unit *unit) {
  const char *added =
      g_strrstr(name, " (column "); /* of the reader of tables: a name that occurs twice */
  g_autofree char *own = added ? g_strndup(name, (gsize)(added - name)) : g_strdup(name);
  const char *last = strrchr(own, ' '), *before = NULL;
  for (const char *c = own; last && (c = strchr(c, ' ')) && c < last; c++)
    before = c;
  const char *tries[] = {before ? before + 1 : own, last ? last + 1 : NULL};
  for (gsize i = 0; i < G_N_ELEMENTS(tries); i++)
    if (tries[i] && is_unit(tries[i], kind, unit))
      return g_strdup(tries[i]);
  return NULL;
}

double ew_heading_factor(const char *text, gsize *size) {
  static const char *const marks[] = {"x", "X", "×", "*", "/"};
  static const double factors[] = {1000, 100, 10};
  static const char *const written[] = {"1000", "100", "10"};
  *size = strlen(text);
  for (gsize f = 0; f < G_N_ELEMENTS(factors); f++) {
    if (!g_str_has_suffix(text, written[f]))
      continue;
    gsize end = *size - strlen(written[f]);
    while (end > 0 && text[end - 1] == ' ')
      end--;
    for (gsize m = 0; m < G_N_ELEMENTS(marks); m++) {
      gsize length = strlen(marks[m]);
      if (end <= length || memcmp(text + end - length, marks[m], length) != 0)
        continue;
      end -= length;
      if (g_ascii_isalpha(*marks[m]) && text[end - 1] != ' ')
        return 1; /* the end of a word */
      while (end > 0 && text[end - 1] == ' ')
        end--;
      *size = end ? end : *size;
      return end ? factors[f] : 1;
    }
    return 1;
  }
  return 1;
}
