/* UUID version 7 (RFC 9562): see uuid.h for layout and method. */
#include "base/uuid.h"
#include <string.h>
#include <sys/random.h>

#define COUNTER_SEED                                                                               \
  0x7ffu /* highest bit 0: room for 2,048 names a millisecond before the time is borrowed from */

void ew_uuid7_write(guint64 unix_ms, guint16 rand_a, guint64 rand_b, char uuid[EW_UUID_SIZE]) {
  guint64 high = (unix_ms & 0xffffffffffff) << 16 | 0x7000 | (rand_a & 0xfff);
  guint64 low = G_GUINT64_CONSTANT(0x8000000000000000) | (rand_b & 0x3fffffffffffffff);
  g_snprintf(uuid, EW_UUID_SIZE, "%08x-%04x-%04x-%04x-%012" G_GINT64_MODIFIER "x",
             (guint)(high >> 32), (guint)(high >> 16 & 0xffff), (guint)(high & 0xffff),
             (guint)(low >> 48), low & 0xffffffffffff);
}

/* The kernel's; it waits at most for the machine to have gathered enough after its start. */
static void fill_random(void *bytes, gsize size) {
  gsize at = 0;
  while (at < size) {
    ssize_t got = getrandom((char *)bytes + at, size - at, 0);
    if (got > 0)
      at += (gsize)got;
  }
}

void ew_uuid7(char uuid[EW_UUID_SIZE]) {
  static GMutex mutex;
  static guint64 last_ms;
  static guint16 counter;
  struct {
    guint64 b;
    guint16 seed;
  } random = {0};
  fill_random(&random, sizeof random);
  g_mutex_lock(&mutex);
  guint64 now_ms = (guint64)MAX(g_get_real_time(), 0) / 1000;
  if (now_ms > last_ms) {
    last_ms = now_ms;
    counter = random.seed & COUNTER_SEED;
  } else if (++counter > 0xfff) { /* the clock stands or went back, and the counter is full */
    last_ms++;
    counter = random.seed & COUNTER_SEED;
  }
  g_assert(counter <= 0xfff && last_ms >= now_ms); /* names rise */
  ew_uuid7_write(last_ms, counter, random.b, uuid);
  g_mutex_unlock(&mutex);
}

void ew_uuid7_of(double unix_s, const char *of, char uuid[EW_UUID_SIZE]) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  guint8 digest[32];
  gsize size = sizeof digest;
  guint64 b = 0;
  g_checksum_update(sum, (const guchar *)of, (gssize)strlen(of));
  g_checksum_get_digest(sum, digest, &size);
  for (int i = 0; i < 8; i++)
    b = b << 8 | digest[i];
  guint16 a = (guint16)(digest[8] << 8 | digest[9]);
  double most_s = (double)((guint64)1 << 48) / 1000 - 1;
  ew_uuid7_write(unix_s > 0 && unix_s < most_s ? (guint64)(unix_s * 1000 + 0.5) : 0, a, b, uuid);
}

gboolean ew_uuid7_is(const char *text) {
  static const char form[] = "xxxxxxxx-xxxx-7xxx-vxxx-xxxxxxxxxxxx";
  if (!text || strlen(text) != EW_UUID_SIZE - 1)
    return FALSE;
  for (int i = 0; form[i]; i++) {
    const char *may = form[i] == 'x' ? "0123456789abcdef" : form[i] == 'v' ? "89ab" : NULL;
    if (may ? !strchr(may, text[i]) : text[i] != form[i])
      return FALSE;
  }
  return TRUE;
}

gint64 ew_uuid7_unix_ms(const char *uuid) {
  g_assert(ew_uuid7_is(uuid));
  char hex[13];
  memcpy(hex, uuid, 8);
  memcpy(hex + 8, uuid + 9, 4);
  hex[12] = 0;
  return (gint64)g_ascii_strtoull(hex, NULL, 16);
}
