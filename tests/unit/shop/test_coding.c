/* Bytes on their way to the shop: back as they were, or refused. The stream format is RFC 1950: its two first bytes are a multiple of
 * 31 (section 2.2), which is checked here beside the round trip. */
#include "shop/coding.h"
#include "unit.h"
#include <string.h>

static GBytes *block(gsize size, gboolean quantised) {
  guchar *bytes = g_malloc(size ? size : 1);
  g_autoptr(GRand) random = g_rand_new_with_seed(19);
  for (gsize i = 0; i < size; i++)
    bytes[i] = quantised ? (guchar)(i / 97 % 5) : (guchar)g_rand_int(random);
  return g_bytes_new_take(bytes, size);
}

static void there_and_back(void **state) {
  static const gsize sizes[] = {0, 1, 64, 65, 4096, 1000003, (gsize)4 << 20};
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(sizes); i++)
    for (int quantised = 0; quantised < 2; quantised++) {
      const char *coding;
      g_autoptr(GBytes) bytes = block(sizes[i], quantised);
      g_autoptr(GBytes) coded = ew_coding_pack(bytes, &coding);
      g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
      g_autoptr(GBytes) back = ew_coding_unpack(coded, coding, (gint64)sizes[i], digest, NULL);
      assert_true(back && g_bytes_equal(back, bytes));
      assert_true(g_bytes_get_size(coded) <= sizes[i]);
      if (strcmp(coding, "zlib") == 0) {
        const guchar *head = g_bytes_get_data(coded, NULL);
        assert_int_equal((head[0] * 256 + head[1]) % 31, 0);
      }
      if (quantised && sizes[i] >= 4096)
        assert_string_equal(coding, "zlib");
    }
}

/* What a shop may hand back that was never sent. */
static void refused(void **state) {
  (void)state;
  const char *coding;
  g_autoptr(GBytes) bytes = block(100000, TRUE);
  g_autoptr(GBytes) coded = ew_coding_pack(bytes, &coding);
  g_autoptr(GBytes) cut = g_bytes_new_from_bytes(coded, 0, g_bytes_get_size(coded) - 1);
  g_autoptr(GBytes) none = g_bytes_new(NULL, 0);
  g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
  const struct {
    const char *says;
    GBytes *coded;
    const char *coding;
    gint64 size;
    const char *sha256;
  } rows[] = {{"cut short", cut, "zlib", 100000, digest},
              {"longer than it says", coded, "zlib", 99999, digest},
              {"shorter than it says", coded, "zlib", 100001, digest},
              {"of no length", coded, "zlib", -1, digest},
              {"of all the memory there is", coded, "zlib", G_MAXINT64, digest},
              {"in no coding", coded, "plain", 100000, digest},
              {"in another coding", coded, "brotli", 100000, digest},
              {"nothing", none, "zlib", 0, digest},
              {"another's", coded, "zlib", 100000,
               "0000000000000000000000000000000000000000000000000000000000000000"}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    g_autoptr(GBytes) whole =
        ew_coding_unpack(rows[i].coded, rows[i].coding, rows[i].size, rows[i].sha256, &error);
    expect(!whole && error, rows[i].says, "taken");
  }
}

int main(void) {
  g_log_set_always_fatal(G_LOG_LEVEL_CRITICAL |
                         G_LOG_FATAL_MASK); /* a full buffer is no question to the library */
  const struct CMUnitTest tests[] = {cmocka_unit_test(there_and_back), cmocka_unit_test(refused)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
