/* Every place of an engine in one spelling, and what people write turned into it. A place that the engine hasn't got
 * is refused with the nearest one, and the first and last that it has. */
#include "build/position.h"
#include "base/error.h"
#include "base/suggest.h"
#include <stdlib.h>
#include <string.h>

EW_MESSAGE(as_written, "build.place-as-written", EW_NOTE, "{place}");
EW_MESSAGE(one_word, "build.place-word", EW_NOTE, "{number} {word}");
EW_MESSAGE(two_words, "build.place-words", EW_NOTE, "{number} {word} {other}");
EW_MESSAGE(lettered, "build.place-letter", EW_NOTE, "{number} {word} {letter}");
EW_MESSAGE(bank, "build.place-bank", EW_NOTE, "bank {number}");
EW_MESSAGE(whole_engine, "build.place-engine", EW_NOTE, "engine");
EW_MESSAGE(word_inlet, "build.word-inlet", EW_NOTE, "inlet");
EW_MESSAGE(word_exhaust, "build.word-exhaust", EW_NOTE, "exhaust");
EW_MESSAGE(word_top, "build.word-top", EW_NOTE, "top");
EW_MESSAGE(word_middle, "build.word-middle", EW_NOTE, "middle");
EW_MESSAGE(word_bottom, "build.word-bottom", EW_NOTE, "bottom");
EW_MESSAGE(word_thrust, "build.word-thrust", EW_NOTE, "thrust");
EW_MESSAGE(word_axial, "build.word-axial", EW_NOTE, "axial");

static const struct {
  const char *key;
  const struct ew_message_kind *word;
} place_words[] = {{"inlet", &word_inlet},   {"exhaust", &word_exhaust}, {"top", &word_top},
                   {"middle", &word_middle}, {"bottom", &word_bottom},   {"thrust", &word_thrust},
                   {"axial", &word_axial}};

static const struct ew_message_kind *word_of(const char *key) {
  for (gsize i = 0; key && i < G_N_ELEMENTS(place_words); i++)
    if (strcmp(place_words[i].key, key) == 0)
      return place_words[i].word;
  return NULL;
}

ew_message *ew_build_place(const char *position) {
  g_auto(GStrv) parts = g_strsplit(position, " ", 4);
  guint count = g_strv_length(parts);
  gint64 number = 0;
  const struct ew_message_kind *word = count > 1 ? word_of(parts[1]) : NULL,
                               *other = count > 2 ? word_of(parts[2]) : NULL;
  if (count == 1 && strcmp(position, "engine") == 0)
    return ew_message_plain(&whole_engine);
  if (count == 2 && strcmp(parts[0], "bank") == 0 &&
      g_ascii_string_to_signed(parts[1], 10, 1, 2, &number, NULL))
    return ew_message(&bank, ew_say_count("number", number));
  gboolean numbered = count && g_ascii_string_to_signed(parts[0], 10, 1, 99, &number, NULL);
  if (numbered && word && count == 2)
    return ew_message(&one_word, ew_say_count("number", number), ew_say_word("word", word));
  if (numbered && word && other && count == 3)
    return ew_message(&two_words, ew_say_count("number", number), ew_say_word("word", word),
                      ew_say_word("other", other));
  if (numbered && word && count == 3 && strlen(parts[2]) == 1)
    return ew_message(&lettered, ew_say_count("number", number), ew_say_word("word", word),
                      ew_say_text("letter", parts[2]));
  return ew_message(&as_written, ew_say_text("place", position));
}

static int main_count(const struct ew_engine *engine, int stated) {
  if (stated > 0)
    return stated;
  return engine->geometry.layout == EW_LAYOUT_INLINE ? engine->cylinders + 1
                                                     : engine->cylinders / 2 + 1;
}

static void add_numbers(GPtrArray *list, int count, const char *before) {
  for (int i = 1; i <= count; i++)
    g_ptr_array_add(list, g_strdup_printf("%s%d", before, i));
}

static void add_bores(GPtrArray *list, int cylinders) {
  static const char *const depths[] = {"top", "middle", "bottom"};
  for (int i = 1; i <= cylinders; i++)
    for (int k = 0; k < 6; k++)
      g_ptr_array_add(list,
                      g_strdup_printf("%d %s %s", i, depths[k / 2], k % 2 ? "axial" : "thrust"));
}

static void add_valves(GPtrArray *list, const struct ew_engine *engine, int side, int cylinder) {
  g_assert(side == 0 || side == 1);
  int count = side ? engine->exhaust.count : engine->inlet.count;
  for (int k = 0; k < MAX(count, 1); k++)
    g_ptr_array_add(
        list, count > 1 ? g_strdup_printf("%d %s %c", cylinder, side ? "exhaust" : "inlet", 'a' + k)
                        : g_strdup_printf("%d %s", cylinder, side ? "exhaust" : "inlet"));
}

GPtrArray *ew_build_positions(const struct ew_engine *engine, enum ew_build_by by, int mains) {
  GPtrArray *list = g_ptr_array_new_with_free_func(g_free);
  int n = engine->cylinders;
  switch (by) {
  case EW_BY_ENGINE: g_ptr_array_add(list, g_strdup("engine")); break;
  case EW_BY_MAIN: add_numbers(list, main_count(engine, mains), ""); break;
  case EW_BY_ROD:
  case EW_BY_CYLINDER: add_numbers(list, n, ""); break;
  case EW_BY_BORE: add_bores(list, n); break;
  case EW_BY_BANK:
    add_numbers(list, engine->geometry.layout == EW_LAYOUT_INLINE ? 1 : 2, "bank ");
    break;
  case EW_BY_VALVE:
  case EW_BY_INLET:
  case EW_BY_EXHAUST:
    for (int i = 1; i <= n; i++)
      for (int side = 0; side < 2; side++)
        if (by == EW_BY_VALVE || (by == EW_BY_EXHAUST) == (side == 1))
          add_valves(list, engine, side, i);
    break;
  case EW_BY_FREE: break;
  }
  return list;
}

/* Words in lower case with one blank between; sort words that say nothing new are dropped, and
 * "inlet 4" becomes "4 inlet". */
static char *plain_words(const char *text, enum ew_build_by by) {
  static const char *const noise[] = {"main",  "rod",  "cylinder", "cyl", "bore",
                                      "valve", "port", "piston",   NULL};
  g_autofree char *lower = g_ascii_strdown(text, -1);
  g_auto(GStrv) words = g_strsplit_set(g_strstrip(lower), " \t,#", -1);
  g_autoptr(GPtrArray) kept = g_ptr_array_new();
  for (int i = 0; words[i]; i++)
    if (*words[i] && !g_strv_contains(noise, words[i]))
      g_ptr_array_add(kept, words[i]);
  for (guint i = 0; i + 1 < kept->len && by != EW_BY_BANK; i++)
    if (!g_ascii_isdigit(*(char *)kept->pdata[i]) && g_ascii_isdigit(*(char *)kept->pdata[i + 1]) &&
        i == 0) {
      gpointer word = kept->pdata[0];
      kept->pdata[0] = kept->pdata[1], kept->pdata[1] = word;
    }
  if (by == EW_BY_BANK && kept->len == 1)
    g_ptr_array_insert(kept, 0, (gpointer) "bank");
  if ((by == EW_BY_INLET || by == EW_BY_EXHAUST) && kept->len == 1)
    g_ptr_array_add(kept, (gpointer)(by == EW_BY_INLET ? "inlet" : "exhaust"));
  g_ptr_array_add(kept, NULL);
  return g_strjoinv(" ", (char **)kept->pdata);
}

char *ew_build_position(const char *text, enum ew_build_by by, const struct ew_engine *engine,
                        int mains, const char *where, GError **error) {
  if (by == EW_BY_ENGINE && (!text || !*text))
    return g_strdup("engine");
  if (!text || !*text) {
    ew_refuse(error, "%s: 'position' is missing: which place was it?", where);
    return NULL;
  }
  if (by == EW_BY_FREE)
    return g_strstrip(g_strdup(text));
  g_autofree char *plain = plain_words(text, by);
  g_autoptr(GPtrArray) all = ew_build_positions(engine, by, mains);
  for (guint i = 0; i < all->len; i++)
    if (strcmp(all->pdata[i], plain) == 0)
      return g_strdup(plain);
  g_assert(all->len > 0); /* every engine has a place of each kind */
  const char *near = ew_suggest(plain, (const char *const *)all->pdata, all->len);
  const char *first = all->pdata[0], *last = all->pdata[all->len - 1];
  if (near)
    ew_refuse(
        error,
        "%s: position '%s' is not a place on this engine; did you mean '%s'? Places are \"%s\" "
        "to \"%s\"",
        where, text, near, first, last);
  else
    ew_refuse(error, "%s: position '%s' is not a place on this engine: places are \"%s\" to \"%s\"",
              where, text, first, last);
  return NULL;
}

int ew_build_position_number(const char *position) {
  const char *digits = g_str_has_prefix(position, "bank ") ? position + 5 : position;
  return g_ascii_isdigit(*digits) ? atoi(digits) : 0;
}

int ew_build_position_side(const char *position) {
  return strstr(position, "inlet") ? 0 : strstr(position, "exhaust") ? 1 : -1;
}
