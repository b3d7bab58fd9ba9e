/* One code at a time, its age, and wrong guesses by address, all in memory: a restart forgets the code and the
 * guesses. Random digits come from the kernel.
 *
 *   NONE --make--> OPEN --the right code: end | 10 minutes | 2,000 wrong guesses in all--> NONE
 *                  OPEN --make--> OPEN with another code, all guesses forgotten */
#include "serve/device_codes.h"
#include "base/error.h"
#include <string.h>
#include <sys/random.h>

#define CODE_S      600
#define GUESSES     5    /* of one address */
#define GUESSES_ALL 2000 /* of all */

struct ew_device_codes {
  char code[9];
  enum ew_rights rights;
  gint64 until;        /* monotonic; 0: no code */
  GHashTable *guesses; /* address -> wrong ones of this code */
  guint guesses_all;
};

/* NONE: until is 0. OPEN: eight digits, a time, and fewer wrong guesses than end it. */
static void check_codes(const struct ew_device_codes *codes) {
  g_assert(codes->until == 0 || strlen(codes->code) == 8);
  g_assert(codes->until == 0 || codes->guesses_all < GUESSES_ALL);
  g_assert(g_hash_table_size(codes->guesses) <= codes->guesses_all);
}

struct ew_device_codes *ew_device_codes_new(void) {
  struct ew_device_codes *codes = g_new0(struct ew_device_codes, 1);
  codes->guesses = g_hash_table_new(NULL, NULL);
  return codes;
}

void ew_device_codes_free(struct ew_device_codes *codes) {
  g_hash_table_unref(codes->guesses);
  g_free(codes);
}

const char *ew_device_codes_make(struct ew_device_codes *codes, enum ew_rights rights) {
  guint64 number;
  do
    if (getrandom(&number, sizeof number, 0) != sizeof number)
      g_error("the kernel gives no random bytes");
  while (number >= G_MAXUINT64 - G_MAXUINT64 % 100000000); /* every code is as likely */
  g_snprintf(codes->code, sizeof codes->code, "%08" G_GUINT64_FORMAT, number % 100000000);
  codes->rights = rights;
  codes->until = g_get_monotonic_time() + (gint64)CODE_S * G_USEC_PER_SEC;
  g_hash_table_remove_all(codes->guesses);
  codes->guesses_all = 0;
  check_codes(codes);
  return codes->code;
}

static guint wrong_of(const struct ew_device_codes *codes, guint32 address) {
  return GPOINTER_TO_UINT(g_hash_table_lookup(codes->guesses, GUINT_TO_POINTER(address)));
}

static void count_wrong(struct ew_device_codes *codes, guint32 address) {
  g_hash_table_insert(codes->guesses, GUINT_TO_POINTER(address),
                      GUINT_TO_POINTER(wrong_of(codes, address) + 1));
  if (++codes->guesses_all >= GUESSES_ALL)
    codes->until = 0;
  check_codes(codes);
}

gboolean ew_device_codes_fits(struct ew_device_codes *codes, guint32 address, const char *code,
                              enum ew_rights *rights, GError **error) {
  if (wrong_of(codes, address) >= GUESSES)
    return ew_refuse(error, "five wrong guesses came from this address: ask for a new code on the "
                            "machine that serves the page");
  guint different = strlen(code) != 8;
  for (gsize i = 0; i < 8 && code[i]; i++)
    different |= (guint)(code[i] ^ codes->code[i]);
  *rights = codes->rights;
  check_codes(codes);
  if (codes->until > g_get_monotonic_time() && !different)
    return TRUE;
  count_wrong(codes, address);
  return ew_refuse(error,
                   "this code is wrong, used or older than 10 minutes: ask for a new one on the "
                   "machine that serves the page");
}

void ew_device_codes_end(struct ew_device_codes *codes) {
  codes->until = 0;
}
