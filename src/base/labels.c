/* Whole words of a text exchanged for their other spelling, in one pass; the first pair that fits counts. What a
 * word is, and what is left alone: labels.h. O(length x pairs). */
#include "base/labels.h"
#include <string.h>

const char *const ew_labels_names[EW_LABELS_COUNT] = {"british", "american"};

const struct ew_label_pair ew_label_pairs[] = {
#define X(british, american) {{british, american}},
    EW_LABEL_PAIRS(X)
#undef X
};
const gsize ew_label_pairs_count = G_N_ELEMENTS(ew_label_pairs);

gboolean ew_labels_find(const char *name, enum ew_labels *labels) {
  *labels = EW_LABELS_BRITISH;
  if (!name || !*name)
    return TRUE;
  for (int k = 0; k < EW_LABELS_COUNT; k++)
    if (strcmp(name, ew_labels_names[k]) == 0) {
      *labels = (enum ew_labels)k;
      return TRUE;
    }
  return FALSE;
}

/* A letter or figure of any script; what is not UTF-8 belongs to words, too. */
static gboolean of_a_word(const char *at) {
  gunichar c = g_utf8_get_char_validated(at, -1);
  return c == (gunichar)-1 || c == (gunichar)-2 || g_unichar_isalnum(c);
}

static gboolean one_of(char c, const char *set) {
  return c && strchr(set, c) != NULL;
}

static gboolean may_begin(const char *text, const char *at) {
  if (at == text)
    return TRUE;
  const char *before = g_utf8_find_prev_char(text, at);
  return !of_a_word(before ? before : at - 1) && !one_of(at[-1], EW_LABELS_NOT_AFTER);
}

static gboolean may_end(const char *end) {
  return !*end || (!of_a_word(end) && !one_of(*end, EW_LABELS_NOT_BEFORE));
}

static const struct ew_label_pair *pair_at(const char *at, enum ew_labels from) {
  for (gsize i = 0; i < ew_label_pairs_count; i++) {
    const char *word = ew_label_pairs[i].word[from];
    gsize length = strlen(word);
    if (g_ascii_strncasecmp(at, word, length) == 0 && may_end(at + length))
      return &ew_label_pairs[i];
  }
  return NULL;
}

static void append_like(GString *to, const char *word, const char *model) {
  gboolean first = g_ascii_isupper(model[0]), all = first && g_ascii_isupper(model[1]);
  for (const char *c = word; *c; c++)
    g_string_append_c(to, all || (first && c == word) ? g_ascii_toupper(*c) : *c);
}

char *ew_labels_put(const char *text, enum ew_labels labels) {
  g_assert(labels < EW_LABELS_COUNT);
  enum ew_labels from = labels == EW_LABELS_BRITISH ? EW_LABELS_AMERICAN : EW_LABELS_BRITISH;
  GString *to = g_string_sized_new(strlen(text) + 16);
  for (const char *at = text; *at;) {
    const struct ew_label_pair *pair = may_begin(text, at) ? pair_at(at, from) : NULL;
    if (pair) {
      append_like(to, pair->word[labels], at);
      at += strlen(pair->word[from]);
    } else
      g_string_append_c(to, *at++);
  }
  return g_string_free(to, FALSE);
}
