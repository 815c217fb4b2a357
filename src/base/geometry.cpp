#include "base/geometry.hpp"

#include "base/trouble.hpp"

namespace lotwear {

namespace {

std::array<double, 9> adjugate(const std::array<double, 9>& m) {
  return {m[4] * m[8] - m[5] * m[7], m[2] * m[7] - m[1] * m[8], m[1] * m[5] - m[2] * m[4],
          m[5] * m[6] - m[3] * m[8], m[0] * m[8] - m[2] * m[6], m[2] * m[3] - m[0] * m[5],
          m[3] * m[7] - m[4] * m[6], m[1] * m[6] - m[0] * m[7], m[0] * m[4] - m[1] * m[3]};
}

}  // namespace

template <class To, class From>
Projective<To, From>::Projective(const Matrix& m) : m_(m) {
  const Matrix a = adjugate(m);
  const double det = m[0] * a[0] + m[1] * a[3] + m[2] * a[6];
  double norm = 0;
  for (const double v : m) norm += std::abs(v);
  require(std::isfinite(det) && norm > 0 && det != 0, "a projective map must be invertible");
}

template <class To, class From>
Projective<From, To> Projective<To, From>::inverse() const {
  Matrix inv = adjugate(m_);
  const double det = m_[0] * inv[0] + m_[1] * inv[3] + m_[2] * inv[6];
  for (double& v : inv) v /= det;
  return Projective<From, To>(inv);
}

template class Projective<struct GroundFrame, struct ImageFrame>;
template class Projective<struct ImageFrame, struct GroundFrame>;
template class Projective<struct GroundFrame, struct GroundFrame>;

}  // namespace lotwear
