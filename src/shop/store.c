/* Which store an address means: there is one. Addresses are as libpq has them (a connection URI). */
#include "shop/store.h"
#include "base/error.h"
#include "shop/postgresql/postgresql.h"
#include <string.h>

gboolean ew_shop_is_address(const char *text) {
  return g_str_has_prefix(text, "postgresql://") || g_str_has_prefix(text, "postgres://");
}

/* "//user:secret@host": on a command line everybody on the machine can read it, and it would be stored. */
static gboolean has_password(const char *address) {
  const char *rest = strstr(address, "://") + 3;
  gsize authority = strcspn(rest, "/?#");
  const char *at = g_strrstr_len(rest, (gssize)authority, "@");
  return (at && memchr(rest, ':', (gsize)(at - rest))) || strstr(address, "password=");
}

gboolean ew_shop_check_address(const char *address, GError **error) {
  if (!ew_shop_is_address(address))
    return ew_refuse(
        error, "'%.80s' is not the address of a shop: write postgresql://HOST/DATABASE", address);
  return !has_password(address) ||
         ew_refuse(error,
                   "there is a password in the shop's address: take it out, everybody on this "
                   "machine can read it there, and write it into the file ~/.pgpass");
}

struct ew_shop_store *ew_shop_open(const char *address, const gint *stop, GError **error) {
  return ew_shop_check_address(address, error) ? ew_postgresql_open(address, stop, error) : NULL;
}

void ew_shop_close(struct ew_shop_store *store) {
  if (store)
    store->class->close(store);
}

void ew_shop_head_clear(void *head) {
  struct ew_shop_head *h = head;
  g_free(h->name);
  g_free(h->identity);
  g_free(h->writer);
  g_free(h->login);
  g_free(h->came_at);
}
