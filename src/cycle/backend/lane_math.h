/* What the kernels calculate with beyond single operations, alike on processors and devices: fixed sequences of operations that
 * IEEE 754 rounds alike everywhere. Logarithm and exponential are our own for the same reason: the C library picks its version by
 * processor, a device's compiler has its own.
 *
 * Included by vector.h and vector_single.h, and compiled as OpenCL C by opencl.c; whoever includes it has defined V, I, U, M, bits_of, of_bits,
 * splat, over, pick, least, most and root, and in single precision number_of: whole numbers as V. */
#pragma once

INLINE V clamp(V x, V low, V high) {
  return most(low, least(x, high));
}
INLINE V absolute(V x) {
  return of_bits(bits_of(x) & INT64_MAX);
}

#ifndef EW_SINGLE
/* Natural logarithm of a positive, normal number; error below 3e-16 + 3e-16 |ln x|.
 * x = 2^e m, m in [sqrt(1/2), sqrt(2)); ln m = 2 atanh((m-1)/(m+1)) by its series. */
INLINE V logarithm(V x) {
  U bits = (U)bits_of(x);
  V e = of_bits((I)((bits >> 52) | 0x4330000000000000u)) - 4503599627371519.0; /* 2^52 + 1023 */
  V m = of_bits((I)((bits & 0xfffffffffffffu) | 0x3ff0000000000000u));
  M big = over(m, splat(1.4142135623730951));
  m = pick(big, m * 0.5, m);
  e = pick(big, e + 1, e);
  V f = (m - 1) / (m + 1), q = f * f;
  V s = splat(1.0 / 19);
  s = s * q + 1.0 / 17;
  s = s * q + 1.0 / 15;
  s = s * q + 1.0 / 13;
  s = s * q + 1.0 / 11;
  s = s * q + 1.0 / 9;
  s = s * q + 1.0 / 7;
  s = s * q + 1.0 / 5;
  s = s * q + 1.0 / 3;
  return e * 0.693147180369123816490 + (2 * f + (2 * f * q * s + e * 1.90821492927058770002e-10));
}

/* Exponential, argument held within +-700; relative error below 1e-15 for small arguments. */
INLINE V exponential(V x) {
  x = clamp(x, splat(-700), splat(700));
  V t = x * 1.4426950408889634 + 6755399441055744.0; /* 1.5 * 2^52: the sum rounds to an integer */
  V n = t - 6755399441055744.0;
  V r = (x - n * 0.693147180369123816490) - n * 1.90821492927058770002e-10;
  V s = splat(1.0 / 479001600);
  s = s * r + 1.0 / 39916800;
  s = s * r + 1.0 / 3628800;
  s = s * r + 1.0 / 362880;
  s = s * r + 1.0 / 40320;
  s = s * r + 1.0 / 5040;
  s = s * r + 1.0 / 720;
  s = s * r + 1.0 / 120;
  s = s * r + 1.0 / 24;
  s = s * r + 1.0 / 6;
  s = s * r + 0.5;
  s = s * r + 1;
  s = s * r + 1;
  return of_bits((I)((U)bits_of(s) + ((U)bits_of(t) << 52)));
}
#else
/* The same in single precision: errors below 2e-7 + 2e-7 |ln x|, and 3e-7 of e^x. */
INLINE V logarithm(V x) {
  U bits = (U)bits_of(x);
  V e = number_of((I)(bits >> 23) - 127);
  V m = of_bits((I)((bits & 0x7fffffu) | 0x3f800000u));
  M big = over(m, splat(1.4142135));
  m = pick(big, m * 0.5, m);
  e = pick(big, e + 1, e);
  V f = (m - 1) / (m + 1), q = f * f;
  V s = ((splat(1.0 / 9) * q + 1.0 / 7) * q + 1.0 / 5) * q + 1.0 / 3;
  return e * 0.693359375 + (2 * f + (2 * f * q * s - e * 2.12194440e-4));
}

INLINE V exponential(V x) {
  x = clamp(x, splat(-87.0), splat(87.0));
  V t = x * 1.44269504 + 12582912.0; /* 1.5 * 2^23: the sum rounds to an integer */
  V n = t - 12582912.0;
  V r = (x - n * 0.693359375) + n * 2.12194440e-4;
  V s =
      ((((((splat(1.0 / 5040) * r + 1.0 / 720) * r + 1.0 / 120) * r + 1.0 / 24) * r + 1.0 / 6) * r +
        0.5) *
           r +
       1) *
          r +
      1;
  return of_bits((I)((U)bits_of(s) + ((U)bits_of(t) << 23)));
}
#endif
