/* Vectors of single precision for the kernels of the search: EW_VECTOR floats, 8 (the lanes of one cell) or 16 (those of two neighbours).
 *
 * What lives for one step only is single; the state and what is added to it step by step stay double (S): rows of the state are converted as
 * they are read and written. As in vector.h every function is a fixed sequence of single operations of IEEE 754, so that each width gives the
 * same bits. Compiled with constants taken as single, and contraction off. */
#pragma once
#include <math.h>
#include <stdint.h>
#if defined(__x86_64__)
#include <immintrin.h>
#endif

#ifndef EW_VECTOR
#define EW_VECTOR 8
#endif
_Static_assert(EW_VECTOR == 8 || EW_VECTOR == 16, "the lanes of one cell or of two");

typedef float V __attribute__((vector_size(EW_VECTOR * 4), aligned(4), may_alias));
typedef int32_t I __attribute__((vector_size(EW_VECTOR * 4), aligned(4), may_alias));
typedef uint32_t U __attribute__((vector_size(EW_VECTOR * 4), aligned(4), may_alias));

#define INLINE static inline __attribute__((always_inline, unused))

INLINE I bits_of(V x) {
  return (I)x;
}
INLINE V of_bits(I x) {
  return (V)x;
}
INLINE V number_of(I x) {
  return __builtin_convertvector(x, V);
}
INLINE V splat(float x) {
  return x - (V){0};
}

/* ---- comparison, choice, least and most: as in vector.h ---- */

#if EW_VECTOR == 16 && defined(__AVX512DQ__)
typedef __mmask16 M;
INLINE M over(V a, V b) {
  return _mm512_cmp_ps_mask((__m512)a, (__m512)b, _CMP_GT_OQ);
}
INLINE V pick(M mask, V yes, V no) {
  return (V)_mm512_mask_blend_ps(mask, (__m512)no, (__m512)yes);
}
INLINE V least(V a, V b) {
  return (V)_mm512_min_ps((__m512)a, (__m512)b);
}
INLINE V most(V a, V b) {
  return (V)_mm512_max_ps((__m512)a, (__m512)b);
}
INLINE V root(V x) {
  return (V)_mm512_sqrt_ps((__m512)x);
}
INLINE int any(M mask) {
  return mask != 0;
}
#elif EW_VECTOR == 8 && defined(__AVX__)
typedef I M;
INLINE M over(V a, V b) {
  return a > b;
}
INLINE V pick(M mask, V yes, V no) {
  return (V)_mm256_blendv_ps((__m256)no, (__m256)yes, (__m256)mask);
}
INLINE V least(V a, V b) {
  return (V)_mm256_min_ps((__m256)a, (__m256)b);
}
INLINE V most(V a, V b) {
  return (V)_mm256_max_ps((__m256)a, (__m256)b);
}
INLINE V root(V x) {
  return (V)_mm256_sqrt_ps((__m256)x);
}
INLINE int any(M mask) {
  return _mm256_movemask_ps((__m256)mask) != 0;
}
#else
typedef I M;
INLINE M over(V a, V b) {
  return a > b;
}
INLINE V pick(M mask, V yes, V no) {
  return (V)(((I)yes & mask) | ((I)no & ~mask));
}
INLINE V least(V a, V b) {
  return pick(a < b, a, b);
}
INLINE V most(V a, V b) {
  return pick(a > b, a, b);
}
INLINE V root(V x) {
  V y;
  for (int i = 0; i < EW_VECTOR; i++)
    y[i] = sqrtf(x[i]);
  return y;
}
INLINE int any(M mask) {
  int32_t seen = 0;
  for (int i = 0; i < EW_VECTOR; i++)
    seen |= mask[i];
  return seen != 0;
}
#endif

/* ---- what is added to step by step, in double ---- */

#if EW_VECTOR == 16 && defined(__AVX512DQ__)
typedef __m512d D;
#define EW_DOUBLES 8
INLINE D upper_of(V x, int half) {
  return _mm512_cvtps_pd(half ? _mm512_extractf32x8_ps((__m512)x, 1)
                              : _mm512_castps512_ps256((__m512)x));
}
INLINE V joined(D low, D high) {
  __m512 first = _mm512_castps256_ps512(_mm512_cvtpd_ps(low));
  return (V)_mm512_insertf32x8(first, _mm512_cvtpd_ps(high), 1);
}
#elif EW_VECTOR == 8 && defined(__AVX__)
typedef __m256d D;
#define EW_DOUBLES 4
INLINE D upper_of(V x, int half) {
  return _mm256_cvtps_pd(half ? _mm256_extractf128_ps((__m256)x, 1)
                              : _mm256_castps256_ps128((__m256)x));
}
INLINE V joined(D low, D high) {
  return (V)_mm256_set_m128(_mm256_cvtpd_ps(high), _mm256_cvtpd_ps(low));
}
#else
#define EW_DOUBLES (EW_VECTOR / 2)
typedef double D __attribute__((vector_size(EW_DOUBLES * 8), aligned(8), may_alias));
INLINE D upper_of(V x, int half) {
  D d;
  for (int i = 0; i < EW_DOUBLES; i++)
    d[i] = x[half * EW_DOUBLES + i];
  return d;
}
INLINE V joined(D low, D high) {
  V x;
  for (int i = 0; i < EW_DOUBLES; i++) {
    x[i] = (float)low[i];
    x[EW_DOUBLES + i] = (float)high[i];
  }
  return x;
}
#endif
typedef D DOUBLES __attribute__((aligned(8), may_alias));
typedef struct {
  D low, high;
} S;

INLINE S load_sum(const double *p) {
  return (S){*(const DOUBLES *)p, *(const DOUBLES *)(p + EW_DOUBLES)};
}
INLINE void store_sum(double *p, S s) {
  *(DOUBLES *)p = s.low;
  *(DOUBLES *)(p + EW_DOUBLES) = s.high;
}
INLINE S widened(V x) {
  return (S){upper_of(x, 0), upper_of(x, 1)};
}
INLINE V narrowed(S s) {
  return joined(s.low, s.high);
}
INLINE S added(S a, V b) {
  S wide = widened(b);
  return (S){a.low + wide.low, a.high + wide.high};
}
INLINE S divided(S a, V b) {
  S wide = widened(b);
  return (S){a.low / wide.low, a.high / wide.high};
}

INLINE V load_row(const double *p) {
  return narrowed(load_sum(p));
}
INLINE void store_row(double *p, V v) {
  store_sum(p, widened(v));
}
INLINE V load_field(const float *p) {
  return *(const V *)p;
}
INLINE void store_field(float *p, V v) {
  *(V *)p = v;
}
typedef double *DOUBLE_ROW; /* names that hold where the shared sources read float for double */
typedef const double *KEPT_ROW;
typedef float *FLOAT_ROW;
typedef const float *KEPT_FIELD;
#define load(p)                                                                                    \
  _Generic((p), DOUBLE_ROW                                                                         \
           : load_row, KEPT_ROW                                                                    \
           : load_row, FLOAT_ROW                                                                   \
           : load_field, KEPT_FIELD                                                                \
           : load_field)(p)
#define store(p, v) _Generic((p), DOUBLE_ROW : store_row, FLOAT_ROW : store_field)(p, v)
