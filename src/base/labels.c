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

/* Bytes of UTF-8 beyond ASCII belong to words. */
static gboolean letter(char c) {
  return g_ascii_isalnum(c) || c == '_' || (guchar)c >= 0x80;
}

static gboolean may_begin(const char *text, const char *at) {
  return at == text || (!letter(at[-1]) && !strchr("-./'\"", at[-1]));
}

static const struct ew_label_pair *pair_at(const char *at, enum ew_labels from) {
  for (gsize i = 0; i < ew_label_pairs_count; i++) {
    const char *word = ew_label_pairs[i].word[from];
    gsize length = strlen(word);
    if (g_ascii_strncasecmp(at, word, length) == 0 && !letter(at[length]) && at[length] != '=')
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
