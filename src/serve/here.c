/* The link's key, the cookie's token, and the file of this account they come from. Compared in constant time. How
 * they belong together: here.h. */
#include "serve/here.h"
#include "base/machine.h"
#include <string.h>
#include <unistd.h>

#define KEY_FILE  "here.key"
#define KEY_CHARS 64

struct ew_here {
  char *key, *token, *unkept;
};

/* The key of this account, made at the first start. Two first starts at once: the second waits, and reads. */
static char *account_key(GError **error) {
  g_autofree char *text = NULL;
  int lock = ew_machine_lock(KEY_FILE ".lock", error);
  gboolean good = lock >= 0 && ew_machine_read(KEY_FILE, &text, error);
  if (good && (!text || strlen(g_strstrip(text)) != KEY_CHARS)) {
    g_free(text);
    text = ew_machine_random(KEY_CHARS / 2);
    good = ew_machine_write(KEY_FILE, text, error);
  }
  if (lock >= 0)
    close(lock);
  return good ? g_steal_pointer(&text) : NULL;
}

struct ew_here *ew_here_new(void) {
  struct ew_here *here = g_new0(struct ew_here, 1);
  g_autoptr(GError) error = NULL;
  g_autofree char *identity = ew_machine_identity(), *secret = account_key(&error);
  if (!secret) {
    here->unkept = g_strdup(error->message);
    secret = ew_machine_random(KEY_CHARS / 2);
  }
  here->token = g_compute_hmac_for_string(G_CHECKSUM_SHA256, (const guchar *)secret, strlen(secret),
                                          identity, -1);
  here->key = ew_machine_random(16);
  g_assert(strlen(here->key) == 32 && strlen(here->token) == 64); /* never an empty secret */
  return here;
}

void ew_here_free(struct ew_here *here) {
  g_free(here->key);
  g_free(here->token);
  g_free(here->unkept);
  g_free(here);
}

const char *ew_here_unkept(const struct ew_here *here) {
  return here->unkept;
}

const char *ew_here_key(const struct ew_here *here) {
  return here->key;
}

/* In constant time for texts of the right length. */
static gboolean same(const char *given, const char *secret) {
  gsize size = strlen(secret);
  guint different = 0;
  if (!given || strlen(given) != size)
    return FALSE;
  for (gsize i = 0; i < size; i++)
    different |= (guint)(given[i] ^ secret[i]);
  return different == 0;
}

const char *ew_here_open(const struct ew_here *here, const char *key) {
  return same(key, here->key) ? here->token : NULL;
}

gboolean ew_here_holds(const struct ew_here *here, const char *token) {
  return same(token, here->token);
}
