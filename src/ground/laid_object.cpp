#include "ground/laid_object.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace lotwear {

namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kStrayEdge = 0.2;  // of an object's edges: another thing's edge, or a rim that wear made

/// Solves a positive definite system in place by Cholesky's way; `a` holds the lower half, row by row.
void solve(std::vector<double>& a, std::vector<double>& b) {
  const std::size_t n = b.size();
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j <= i; ++j) {
      double sum = a[i * n + j];
      for (std::size_t k = 0; k < j; ++k)
        sum -= a[i * n + k] * a[j * n + k];
      a[i * n + j] = i == j ? std::sqrt(std::max(sum, 1e-12)) : sum / a[j * n + j];
    }
  }
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t k = 0; k < i; ++k)
      b[i] -= a[i * n + k] * b[k];
    b[i] /= a[i * n + i];
  }
  for (std::size_t i = n; i-- > 0;) {
    for (std::size_t k = i + 1; k < n; ++k)
      b[i] -= a[k * n + i] * b[k];
    b[i] /= a[i * n + i];
  }
}

}  // namespace

std::vector<ObjectEdge> object_edges(const DrawnObject& object, cv::Size photo) {
  std::vector<ObjectEdge> edges;
  for (const DrawnEdge& e : object)
    edges.push_back({seen_edge(e.seen, photo), e.drawn, e.tolerance, e.by_proportion});
  const auto error = [](const ObjectEdge& e) { return std::hypot(e.seen.angle_error, e.tolerance); };
  std::stable_sort(edges.begin(), edges.end(),
                   [&](const ObjectEdge& a, const ObjectEdge& b) { return error(a) < error(b); });
  return edges;
}

LaidObject laid_object(const std::vector<ObjectEdge>& object, const PoseGround& ground, double blunt) {
  constexpr std::size_t surest = 0;
  std::vector<Laid> laid;
  for (const ObjectEdge& e : object) {
    laid.push_back(ground.laid(e.seen, blunt));
    laid.back().variance += e.tolerance * e.tolerance;
  }
  if (object.size() == 1)
    return {{line_angle(laid[0].direction - object[0].drawn), laid[0].variance, laid[0].squeeze}, 0};
  const std::size_t unknowns = 1 + object.front().by_proportion.size();
  const auto turned_by = [&](std::size_t k, std::size_t i) { return i == 0 ? 1.0 : object[k].by_proportion[i - 1]; };
  std::vector<double> u(unknowns, 0.0);
  u[0] = laid[surest].direction - object[surest].drawn;
  const auto residual = [&](std::size_t k) {
    double expected = object[k].drawn;
    for (std::size_t i = 0; i < unknowns; ++i)
      expected += turned_by(k, i) * u[i];
    return line_angle(laid[k].direction - expected);
  };
  const auto stray = [&](std::size_t k) { return kStrayEdge / kPi / laid[k].squeeze; };
  const auto fitting = [&](std::size_t k, double blur) {
    return (1 - kStrayEdge) * normal_density(residual(k), laid[k].variance * blur * blur);
  };
  // Nothing is called a stray before turn and proportions had a chance to reach it: tolerances start wide.
  for (const double blur : {60.0, 20.0, 7.0, 2.5, 1.0, 1.0}) {
    std::vector<double> normal(unknowns * unknowns, 0.0), gradient(unknowns, 0.0);
    normal[0] = 1e-9;
    for (std::size_t i = 1; i < unknowns; ++i)
      normal[i * unknowns + i] = 1, gradient[i] = -u[i];  // proportions are in standard deviations
    for (std::size_t k = 0; k < object.size(); ++k) {
      const double density = fitting(k, blur), r = residual(k);
      const double weight = density / (density + stray(k)) / (laid[k].variance * blur * blur);
      for (std::size_t i = 0; i < unknowns; ++i) {
        gradient[i] += weight * r * turned_by(k, i);
        for (std::size_t j = 0; j <= i; ++j)
          normal[i * unknowns + j] += weight * turned_by(k, i) * turned_by(k, j);
      }
    }
    solve(normal, gradient);
    for (std::size_t i = 0; i < unknowns; ++i)
      u[i] += gradient[i];
  }
  LaidObject found;
  for (std::size_t i = 1; i < unknowns; ++i)
    found.log_likelihood -= u[i] * u[i] / 2;
  for (std::size_t k = 0; k < object.size(); ++k) {
    if (k == surest) continue;  // its direction is the object's: it goes into the comparison with others
    found.log_likelihood += std::log(laid[k].squeeze * (fitting(k, 1) + stray(k)));
  }
  found.whole = {line_angle(u[0]), laid[surest].variance, laid[surest].squeeze};
  return found;
}

}  // namespace lotwear
