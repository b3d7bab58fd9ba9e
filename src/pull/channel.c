/* A heading is cut into words (at marks, at a change from small to capital letter, and between letters
 * and digits), and each word is put as the names are written (plain_word). Each known name whose words all stand
 * there is a candidate; the one that covers most of the heading wins, so that "oil temperature" is not "temperature of
 * inlet air". O(words of the heading x words of all names), once a column. */
#include "pull/channel.h"
#include <stdlib.h>
#include <string.h>

const struct ew_channel_facts ew_channel_facts[] = {
#define X(id, key, label, kind, lag, low, high, curve, names)                                      \
  {key, label, kind, lag, low, high, curve, names},
    EW_CHANNELS(X)
#undef X
};

const char *const ew_channel_keys[] = {
#define X(id, key, label, kind, lag, low, high, curve, names) key,
    EW_CHANNELS(X)
#undef X
        NULL};

/* Each label is a word of its own: "channel.oil_pressure". */
#define X(id, key, label, kind, lag, low, high, curve, names)                                      \
  EW_MESSAGE(word_##id, "channel." key, EW_NOTE, label);
EW_CHANNELS(X)
#undef X
static const struct ew_message_kind *const label_words[] = {
#define X(id, key, label, kind, lag, low, high, curve, names) &word_##id,
    EW_CHANNELS(X)
#undef X
};

const struct ew_message_kind *ew_channel_word(enum ew_channel channel) {
  g_assert(channel < EW_CHANNELS_COUNT);
  return label_words[channel];
}

enum ew_channel ew_channel_by_key(const char *key) {
  for (int i = 0; i < EW_CHANNELS_COUNT; i++)
    if (strcmp(ew_channel_facts[i].key, key) == 0)
      return (enum ew_channel)i;
  return EW_CHANNELS_COUNT;
}

/* "TEMPÉRATURE" and "Öl" as "temp" and "oel": small, German umlauts written out, other accents taken off, and one word for what
 * five languages and many abbreviations call a temperature and a pressure (common practice, no source). */
static char *plain_word(const char *word) {
  static const struct {
    const char *from, *to;
  } umlauts[] = {{"ä", "ae"}, {"ö", "oe"}, {"ü", "ue"}, {"ß", "ss"}},
    one_word[] = {{"temperature", "temp"}, {"temperatur", "temp"}, {"temperatura", "temp"},
                  {"temperatuur", "temp"}, {"pressure", "press"},  {"pres", "press"},
                  {"prs", "press"},        {"pression", "press"},  {"presion", "press"},
                  {"pressione", "press"},  {"druck", "press"},     {"druk", "press"}};
  if (!g_utf8_validate(word, -1, NULL))
    return g_ascii_strdown(word, -1);
  g_autofree char *small = g_utf8_strdown(word, -1);
  g_autofree char *composed = g_utf8_normalize(small, -1, G_NORMALIZE_DEFAULT_COMPOSE);
  g_autoptr(GString) spelled = g_string_new(composed);
  for (gsize i = 0; i < G_N_ELEMENTS(umlauts); i++)
    g_string_replace(spelled, umlauts[i].from, umlauts[i].to, 0);
  g_autofree char *apart = g_utf8_normalize(spelled->str, -1, G_NORMALIZE_DEFAULT);
  g_autoptr(GString) plain = g_string_new(NULL);
  for (const char *c = apart; *c; c = g_utf8_next_char(c))
    if (g_unichar_type(g_utf8_get_char(c)) != G_UNICODE_NON_SPACING_MARK)
      g_string_append_unichar(plain, g_utf8_get_char(c));
  for (gsize i = 0; i < G_N_ELEMENTS(one_word); i++)
    if (strcmp(plain->str, one_word[i].from) == 0)
      return g_strdup(one_word[i].to);
  return g_strdup(plain->str);
}

static GPtrArray *words_of(const char *name) {
  GPtrArray *words = g_ptr_array_new_with_free_func(g_free);
  GString *word = g_string_new(NULL);
  char last = 0;
  for (const char *c = name;; c++) {
    gboolean letter = g_ascii_isalpha(*c) || (guchar)*c >= 0x80, digit = g_ascii_isdigit(*c);
    gboolean cut = (g_ascii_isupper(*c) && g_ascii_islower(last)) ||
                   (digit && g_ascii_isalpha(last)) || (letter && g_ascii_isdigit(last)) ||
                   (!letter && !digit);
    if (cut && word->len > 0) {
      g_ptr_array_add(words, plain_word(word->str));
      g_string_truncate(word, 0);
    }
    if (!*c)
      break;
    if (letter || digit)
      g_string_append_c(word, *c);
    last = *c;
  }
  g_string_free(word, TRUE);
  return words;
}

/* The words of a heading, without "(column 5)", which the reader of tables adds to a name that occurs twice:
 * it is not a cylinder. */
static GPtrArray *heading_words(const char *name) {
  const char *added = g_strrstr(name, " (column ");
  g_autofree char *own = added ? g_strndup(name, (gsize)(added - name)) : g_strdup(name);
  return words_of(own);
}

static gboolean has_word(const GPtrArray *words, const char *word, gsize size) {
  for (guint i = 0; i < words->len; i++) {
    const char *candidate = g_ptr_array_index(words, i);
    if (*candidate == *word && strlen(candidate) == size && memcmp(candidate, word, size) == 0)
      return TRUE;
  }
  return FALSE;
}

/* Number of words of the known name when all stand in the heading, else 0. */
static guint covered(const GPtrArray *words, const char *name, gsize size) {
  guint count = 0;
  const char *at = name, *end = name + size;
  while (at < end) {
    const char *stop = memchr(at, ' ', (gsize)(end - at));
    if (!stop)
      stop = end;
    if (!has_word(words, at, (gsize)(stop - at)))
      return 0;
    count++;
    at = stop + 1;
  }
  return count;
}

static gboolean is_filler(const char *word) {
  static const char *const fillers[] = {
      "engine", "sensor", "value", "avg", "mean", "actual", "corr", "the", "of", "raw", "max",
      "main", "nm", "lbft", "psi", "bar", "kpa", "deg", "c", "f", "k", "pct", "s", "g", "per", "h",
      "kg", "lb", "hpa", "degc", "degf", "ms", "cyl", "cylinder", "rpm", "kwh", "n", "m",
      /* between words and for the engine itself, in other languages */
      "de", "du", "des", "d", "l", "la", "le", "el", "del", "dell", "della", "dello", "di", "der",
      "die", "das", "van", "a", "al", "il", "moteur", "motor", "motore"};
  for (gsize i = 0; i < G_N_ELEMENTS(fillers); i++)
    if (strcmp(fillers[i], word) == 0)
      return TRUE;
  return g_ascii_isdigit(*word);
}

/* Words that say something. */
static guint plain_words(const GPtrArray *words) {
  guint plain = 0;
  for (guint i = 0; i < words->len; i++)
    plain += !is_filler(g_ptr_array_index(words, i));
  return plain;
}

static int score(const GPtrArray *words, guint plain, const char *names) {
  int best = 0;
  for (const char *at = names; at;) {
    gboolean whole = *at == '=';
    const char *bar = strchr(at += whole, '|');
    gsize size = bar ? (gsize)(bar - at) : strlen(at);
    guint count = covered(words, at, size);
    int rest = (int)MAX(plain, count) - (int)count;
    if (count && !(whole && rest > 0)) {
      if (size <= 2 && rest > 0)
        rest += 3; /* "t" names time only when it stands alone */
      int here = 100 - 20 * rest + (int)MIN(count, 4) * 2 - (words->len > count ? 1 : 0);
      if (here > best)
        best = here;
    }
    at = bar ? bar + 1 : NULL;
  }
  return best;
}

EW_MESSAGE(asked_for, "pull.asked-for", EW_NOTE,
           "the heading is of what was asked for, not of what was measured");
EW_MESSAGE(already_corrected, "pull.already-corrected", EW_NOTE,
           "the heading says that it is corrected already, and a factor is applied only once: to "
           "use it, name it in a channel map and give --standard none");
EW_MESSAGE(not_the_engines, "pull.not-the-engines", EW_NOTE, "the heading is not of the engine");
EW_MESSAGE(no_reading, "pull.no-reading", EW_NOTE, "the heading is not of a reading");
EW_MESSAGE(a_level, "pull.a-level", EW_NOTE, "the heading is of a level");
EW_MESSAGE(of_injection, "pull.of-injection", EW_NOTE,
           "the heading is of when or how long fuel is injected");
EW_MESSAGE(electrical, "pull.electrical", EW_NOTE,
           "the heading is of an electrical figure: what a sensor gives, not what it reads");

static gboolean any_word(const GPtrArray *words, const char *list) {
  g_auto(GStrv) parts = g_strsplit(list, " ", -1);
  for (int i = 0; parts[i]; i++)
    if (has_word(words, parts[i], strlen(parts[i])))
      return TRUE;
  return FALSE;
}

/* How long or when fuel is injected: neither a clock nor the spark. */
static gboolean is_of_injection(const GPtrArray *words) {
  return any_word(words, "injection injector inj inyeccion iniezione einspritz einspritzung "
                         "inspuiting inspuit") &&
         any_word(words, "time timing duration advance angle zeit dauer winkel temps duree avance "
                         "tiempo duracion avance tempo durata anticipo tijd duur hoek");
}

const struct ew_message_kind *ew_channel_excluded(const char *name) {
  g_autoptr(GPtrArray) words = heading_words(name);
  if (any_word(words,
               "target demand demanded setpoint desired commanded cmd request requested limit "
               "soll sollwert consigne consigna objetivo richiesto richiesta obiettivo gewenst"))
    return &asked_for;
  if (any_word(words, "corrected corr korrigiert korr corrige corrigee corregido corregida "
                      "corretto corretta gecorrigeerd"))
    return &already_corrected;
  if (any_word(words, "wheel vehicle gps road ground fan turbo turbine wind gearbox fahrzeug "
                      "getriebe vehicule roue boite vehiculo rueda veicolo ruota cambio voertuig "
                      "wiel versnellingsbak"))
    return &not_the_engines;
  if (any_word(words, "error trim status fault switch alarm warning duty pulse pulsewidth "
                      "dwell coil coils counter id"))
    return &no_reading;
  if (any_word(words, "level niveau nivel livello peil") && !any_word(words, "sea mer mar mare"))
    return &a_level;
  if (is_of_injection(words))
    return &of_injection;
  if (any_word(words, "voltage volt volts mv kv spannung tension tensione voltaje spanning amp "
                      "amps ampere current ohm ohms") ||
      (words->len > 1 && strcmp(g_ptr_array_index(words, words->len - 1), "v") == 0))
    return &electrical;
  return NULL;
}

gboolean ew_channel_is_vacuum(const char *name) {
  g_autoptr(GPtrArray) words = heading_words(name);
  return any_word(words, "vac vacuum unterdruck kurbelgehaeuseunterdruck depression depresion "
                         "depressione onderdruk carteronderdruk");
}

/* "EGT 3", "Cyl 4 EGT": the last number, or the one behind cylinder or bank. */
static int index_of(const GPtrArray *words) {
  for (guint i = 0; i + 1 < words->len; i++) {
    const char *word = g_ptr_array_index(words, i), *next = g_ptr_array_index(words, i + 1);
    if (g_ascii_isdigit(*next) &&
        (!strcmp(word, "cyl") || !strcmp(word, "cylinder") || !strcmp(word, "bank")))
      return atoi(next);
  }
  const char *last = words->len > 1 ? g_ptr_array_index(words, words->len - 1) : "";
  return g_ascii_isdigit(*last) ? atoi(last) : 0;
}

enum ew_channel ew_channel_by_name(const char *name, int *strength, int *index) {
  g_autoptr(GPtrArray) words = heading_words(name);
  enum ew_channel best = EW_CHANNELS_COUNT;
  *strength = 0;
  *index = index_of(words);
  guint plain = plain_words(words); /* of the heading, not of each of the known names */
  for (int i = 0; i < EW_CHANNELS_COUNT; i++) {
    int here = score(words, plain, ew_channel_facts[i].names);
    if (here > *strength) {
      *strength = here;
      best = (enum ew_channel)i;
    }
  }
  if (*strength < 50) {
    *strength = 0;
    best = EW_CHANNELS_COUNT;
  }
  return best;
}
