/* Catalogues of GNU gettext read from the program's resources, by binary search over their sorted texts. */
#include "base/language.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include <stdlib.h>
#include <string.h>

#define MO_MAGIC   0x950412deU
#define MO_LARGEST (16u << 20)
#define CONTEXT    '\004' /* between msgctxt and msgid */

struct ew_language {
  char *code;
  GBytes *bytes; /* NULL: English */
  const char *data;
  gsize size;
  guint32 count, originals, translations; /* byte offsets of the two tables */
  gboolean swapped;
  gboolean french; /* plural rule n > 1; else n != 1 */
  const struct style *style;
};

static const struct style {
  const char *code;
  char decimal;
  const char *thousands, *day;
} styles[] = {
    {"en", '.', ",", "%Y-%m-%d"},
    {"de", ',', ".", "%d.%m.%Y"},
};

static struct ew_language english = {.code = (char *)"en", .style = &styles[0]};
static const char *const codes[] = {"en", "de", NULL};

static GMutex lock;
static GHashTable *loaded; /* name -> struct ew_language*, for the life of the process */
static const struct ew_language *of_process = &english;
static _Thread_local const struct ew_language *of_thread;

const ew_language *ew_language_english(void) {
  return &english;
}

const char *const *ew_language_codes(void) {
  return codes;
}

static guint32 word_at(const struct ew_language *l, gsize at) {
  guint32 word;
  memcpy(&word, l->data + at, sizeof word);
  return l->swapped ? GUINT32_SWAP_LE_BE(word) : word;
}

/* The text of row `i` of a table; NULL when it does not lie within the file or has no end. */
static const char *text_at(const struct ew_language *l, guint32 table, guint32 i, guint32 *size) {
  guint32 length = word_at(l, table + 8 * (gsize)i), at = word_at(l, table + 8 * (gsize)i + 4);
  if (at >= l->size || length >= l->size - at || l->data[at + length] != 0)
    return NULL;
  if (size)
    *size = length;
  return l->data + at;
}

/* Everything that a look-up trusts is checked here, once: both tables, every text, the order. */
static gboolean is_sound(struct ew_language *l) {
  if (l->size < 28 || l->size > MO_LARGEST)
    return FALSE;
  guint32 magic;
  memcpy(&magic, l->data, sizeof magic);
  l->swapped = magic == GUINT32_SWAP_LE_BE(MO_MAGIC);
  if (magic != MO_MAGIC && !l->swapped)
    return FALSE;
  l->count = word_at(l, 8), l->originals = word_at(l, 12), l->translations = word_at(l, 16);
  if (word_at(l, 4) >> 16 > 1 || l->count > l->size / 16 || l->originals > l->size - 8 * l->count ||
      l->translations > l->size - 8 * l->count)
    return FALSE;
  const char *before = NULL;
  for (guint32 i = 0; i < l->count; i++) {
    const char *original = text_at(l, l->originals, i, NULL);
    const char *text = text_at(l, l->translations, i, NULL);
    if (!original || !text || !g_utf8_validate(text, -1, NULL) ||
        (before && strcmp(before, original) >= 0))
      return FALSE;
    before = original;
  }
  return TRUE;
}

static const char *look_up(const struct ew_language *l, const char *key, guint32 *size) {
  guint32 low = 0, high = l->count;
  while (low < high) {
    guint32 middle = low + (high - low) / 2;
    const char *original = text_at(l, l->originals, middle, NULL);
    g_assert(original); /* is_sound looked at all of them */
    int order = strcmp(key, original);
    if (order == 0)
      return text_at(l, l->translations, middle, size);
    if (order < 0)
      high = middle;
    else
      low = middle + 1;
  }
  return NULL;
}

static const struct style *style_of(const char *code) {
  for (gsize i = 0; i < G_N_ELEMENTS(styles); i++)
    if (strcmp(styles[i].code, code) == 0)
      return &styles[i];
  return &styles[0];
}

static void read_head(struct ew_language *l) {
  const char *head = look_up(l, "", NULL);
  l->french = head && strstr(head, "plural=(n > 1)") != NULL;
  l->style = style_of(l->code);
}

/* Takes `bytes`. */
static struct ew_language *read_catalogue(const char *code, GBytes *bytes) {
  struct ew_language *l = g_new0(struct ew_language, 1);
  l->code = g_strdup(code);
  l->bytes = bytes;
  l->data = g_bytes_get_data(bytes, &l->size);
  g_assert(l->code);
  if (is_sound(l)) {
    read_head(l);
    return l;
  }
  g_bytes_unref(bytes);
  g_free(l->code);
  g_free(l);
  return NULL;
}

static GBytes *embedded(const char *code) {
  g_autofree char *path = g_strdup_printf("/enginewright/words/%s.mo", code);
  return g_resources_lookup_data(path, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
}

static struct ew_language *load(const char *name, gboolean is_file) {
  g_autofree char *data = NULL;
  gsize size;
  GBytes *bytes = NULL;
  if (!is_file)
    bytes = embedded(name);
  else if (g_file_get_contents(name, &data, &size, NULL))
    bytes = g_bytes_new_take(g_steal_pointer(&data), size);
  return bytes ? read_catalogue(is_file ? "und" : name, bytes)
               : NULL; /* und: BCP 47, undetermined */
}

static const struct ew_language *kept(const char *name, gboolean is_file) {
  g_mutex_lock(&lock);
  if (!loaded)
    loaded = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  struct ew_language *l = g_hash_table_lookup(loaded, name);
  if (!l && (l = load(name, is_file)))
    g_hash_table_insert(loaded, g_strdup(name), l);
  g_mutex_unlock(&lock);
  return l;
}

/* "de" of "de_DE.UTF-8@euro" and "de-AT". */
static char *code_of(const char *name) {
  return g_ascii_strdown(name, (gssize)strcspn(name, "_-.@"));
}

/* NULL: not here. */
static const struct ew_language *by_code(const char *name) {
  if (!name || !*name || strcmp(name, "C") == 0 || g_str_has_prefix(name, "C.") ||
      strcmp(name, "POSIX") == 0)
    return &english;
  g_autofree char *code = code_of(name);
  if (strcmp(code, "en") == 0)
    return &english;
  for (const char *const *one = codes; *one; one++)
    if (strcmp(*one, code) == 0)
      return kept(code, FALSE);
  return NULL;
}

const ew_language *ew_language_find(const char *name, GError **error) {
  const struct ew_language *l = by_code(name);
  if (!l && (g_str_has_suffix(name, ".mo") || g_str_has_suffix(name, ".gmo")))
    l = kept(name, TRUE);
  if (!l) {
    g_autofree char *all = g_strjoinv(", ", ew_as_pointer(codes));
    ew_refuse(error, "language %s: not available; choose one of %s, or a .mo catalogue", name, all);
  }
  return l;
}

const ew_language *ew_language_of_environment(void) {
  const char *locale = "";
  for (const char *const *one = (const char *const[]){"LC_ALL", "LC_MESSAGES", "LANG", NULL};
       *one && !*locale; one++)
    locale = g_getenv(*one) ? g_getenv(*one) : "";
  const char *list = g_getenv("LANGUAGE");
  if (list && *list && *locale && strcmp(locale, "C") != 0 && strcmp(locale, "POSIX") != 0) {
    g_auto(GStrv) names = g_strsplit(list, ":", 16);
    for (char **name = names; *name; name++)
      if (**name && by_code(*name))
        return by_code(*name);
  }
  const struct ew_language *l = by_code(locale);
  return l ? l : &english;
}

const ew_language *ew_language_accepted(const char *header, const ew_language *otherwise) {
  const struct ew_language *best = otherwise;
  double best_weight = 0;
  g_auto(GStrv) parts = g_strsplit(header && strlen(header) < 500 ? header : "", ",", 16);
  for (char **part = parts; *part; part++) {
    char *weight = strchr(g_strstrip(*part), ';');
    const char *q = weight ? strstr(weight, "q=") : NULL;
    double value = q ? g_ascii_strtod(q + 2, NULL) : 1;
    if (weight)
      *weight = 0;
    const struct ew_language *l = **part && **part != '*' ? by_code(g_strstrip(*part)) : NULL;
    if (l && value > best_weight && value <= 1) {
      best = l;
      best_weight = value;
    }
  }
  return best;
}

void ew_language_of_process(const ew_language *language) {
  of_process = language ? language : &english;
}

const ew_language *ew_language_of_thread(const ew_language *language) {
  const struct ew_language *former = of_thread;
  of_thread = language;
  return former;
}

const ew_language *ew_language_now(void) {
  return of_thread ? of_thread : of_process;
}

const char *ew_language_code(const ew_language *language) {
  return language->code;
}

gboolean ew_language_is_english(void) {
  return !ew_language_now()->bytes;
}

const char *ew_tr(const char *text) {
  const struct ew_language *l = ew_language_now();
  const char *found = l->bytes && text && *text ? look_up(l, text, NULL) : NULL;
  return found && *found ? found : text;
}

const char *ew_tr_in(const char *context, const char *text) {
  const struct ew_language *l = ew_language_now();
  if (!l->bytes)
    return text;
  g_autofree char *key = g_strdup_printf("%s%c%s", context, CONTEXT, text);
  const char *found = look_up(l, key, NULL);
  return found && *found ? found : text;
}

/* A row with plural forms holds them one after another, each with its NUL; its key is "one\0many", found by `one`. */
const char *ew_tr_many(const char *one, const char *many, guint64 n) {
  const struct ew_language *l = ew_language_now();
  guint32 size;
  const char *found = l->bytes ? look_up(l, one, &size) : NULL;
  if (!found || !*found)
    return n == 1 ? one : many;
  gboolean second = l->french ? n > 1 : n != 1;
  gsize first = strlen(found);
  return second && first < size ? found + first + 1 : found;
}

void ew_language_each(const ew_language *l, ew_language_entry each, gpointer user) {
  for (guint32 i = 0; i < l->count; i++) {
    const char *key = text_at(l, l->originals, i, NULL), *split = strchr(key, CONTEXT);
    g_autofree char *context = split ? g_strndup(key, (gsize)(split - key)) : NULL;
    guint32 size;
    const char *id = split ? split + 1 : key, *text = text_at(l, l->translations, i, &size);
    gsize first = strlen(text);
    if (*id && *text)
      each(context, id, text, first < size ? text + first + 1 : NULL, user);
  }
}

char ew_language_decimal(void) {
  return ew_language_now()->style->decimal;
}

const char *ew_language_thousands(void) {
  return ew_language_now()->style->thousands;
}

const char *ew_language_day_pattern(void) {
  return ew_language_now()->style->day;
}
