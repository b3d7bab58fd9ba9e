/* Copies of what a shop holds, one a cell, in $XDG_CACHE_HOME/enginewright; only this user may read them. */
#include "cli/shop_copy.h"
#include "base/error.h"
#include "base/language.h"
#include "base/plain.h"
#include "shop/fetch.h"
#include "shop/shipper.h"
#include <stdio.h>

static char *place_of(const char *given) {
  g_autofree char *digest = g_compute_checksum_for_string(G_CHECKSUM_SHA256, given, -1);
  g_autofree char *name = g_strdup_printf("shop-%.16s.book", digest);
  return g_build_filename(g_get_user_cache_dir(), "enginewright", name, NULL);
}

static gboolean fetch(const char *given, const char *path, GError **error) {
  g_autofree char *address = NULL, *cell = NULL;
  struct ew_fetched fetched;
  ew_shop_split(given, &address, &cell);
  g_autoptr(ew_shop_store) store = ew_shop_open(address, NULL, error);
  return store && ew_shop_fetch(store, address, cell, path, &fetched, error);
}

char *ew_shop_copy_of(const char *given, GError **error) {
  g_autoptr(GError) problem = NULL;
  if (!ew_shop_is_address(given))
    return g_strdup(given);
  char *path = place_of(given);
  g_autofree char *folder = g_path_get_dirname(path);
  if (g_mkdir_with_parents(folder, 0700) == 0 && fetch(given, path, &problem))
    return path;
  if (!problem)
    ew_fail(error, "%s: the folder cannot be created", folder);
  else if (problem->code == EW_ERROR_INTERNAL && g_file_test(path, G_FILE_TEST_EXISTS))
    ew_fail(error, "%s; what was read of it before is in %s", problem->message, path);
  else
    g_propagate_error(error, g_steal_pointer(&problem));
  g_free(path);
  return NULL;
}

gboolean ew_shop_is_file(const char *given, GError **error) {
  return !ew_shop_is_address(given) ||
         ew_refuse(error,
                   "--book '%.80s': what a shop holds is only read; name the cell's own book",
                   given);
}

static void says(const char *trouble, gpointer user) {
  (void)user;
  g_autofree char *plain =
      ew_plain_text(trouble ? trouble : ew_tr(EW_TEXT("the shop has everything again")));
  fprintf(stderr, "enginewright: %s\n", plain);
}

struct ew_shipper *ew_ship_beside(const char *given, const char *path) {
  return given && ew_shop_is_address(given) ? ew_shipper_start_reading(given, path, says, NULL)
                                            : ew_shipper_start(path, says, NULL);
}
