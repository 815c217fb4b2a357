#include "marking/triangle_rows.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "marking/map_agreement.hpp"

namespace lotwear {

namespace {

/// Three and more chipped triangles of one size and paint, each within reach of the next, are a yield line's.
void name_chipped(PiecesRead& read, const Sight& sight) {
  const std::size_t n = read.pieces.size();
  const auto candidate = [&](std::size_t i) {
    return read.readings[i].nearly_triangle.size() == 3 || read.readings[i].triangle.size() == 3;
  };
  const auto corners = [&](std::size_t i) -> const GroundRing& {
    return read.readings[i].triangle.size() == 3 ? read.readings[i].triangle : read.readings[i].nearly_triangle;
  };
  std::vector<int> neighbours(n, 0);
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < n; ++j) {
      if (i == j || !candidate(i) || !candidate(j) || !same_paint(read.pieces[i].contrast, read.pieces[j].contrast))
        continue;
      const double a = area(corners(i)), b = area(corners(j));
      if (std::max(a, b) > 1.7 * std::min(a, b)) continue;
      if (length(centroid(corners(i)) - centroid(corners(j))) < 2.5 * std::sqrt(a)) ++neighbours[i];
    }
  }
  for (std::size_t i = 0; i < n; ++i) {
    bool beside_middle = neighbours[i] >= 2;
    for (std::size_t j = 0; j < n && !beside_middle && neighbours[i] == 1; ++j) {
      beside_middle =
          j != i && neighbours[j] >= 2 &&
          gap_between(read.pieces[i], read.pieces[j], sight.paint, sight.ground) < 1.5 * std::sqrt(area(corners(i)));
    }
    if (!beside_middle || read.readings[i].triangle.size() == 3) continue;
    read.readings[i].triangle = read.readings[i].nearly_triangle;
    read.readings[i].explained = true;
  }
}

constexpr double kMapPixels = 110;       // of the raster that a neighbour's triangle is laid on
constexpr double kLaidAgreement = 0.62;  // of a neighbour's triangle with what a piece shows
constexpr double kSimpler = 0.08;        // a drawing with five proportions has to agree by so much better

bool is_triangle(const Reading& reading) { return reading.triangle.size() == 3; }

GroundRing moved(GroundRing ring, GroundPoint by, double scale) {
  const GroundPoint middle = centroid(ring);
  for (GroundPoint& p : ring)
    p = middle + (p - middle) * scale + by;
  return ring;
}

struct Neighbours {
  std::size_t nearest = 0, second = 0;  ///< triangles of the row, the second next to the first
};

/// The row that a piece would go on: two triangles in line with it, no farther from the nearest than that from the
/// next.
std::optional<Neighbours> row_beside(const PiecesRead& read, std::size_t piece) {
  const GroundPoint at = read.pieces[piece].middle;
  std::optional<Neighbours> best;
  double least = 1e12;
  for (std::size_t a = 0; a < read.pieces.size(); ++a) {
    if (!is_triangle(read.readings[a]) || !same_paint(read.pieces[a].contrast, read.pieces[piece].contrast)) continue;
    const GroundPoint near = centroid(read.readings[a].triangle);
    const double side = std::sqrt(area(read.readings[a].triangle)), far = length(at - near);
    if (far >= least) continue;
    std::size_t next = a;
    double pitch = 4 * side;
    for (std::size_t b = 0; b < read.pieces.size(); ++b) {
      if (b == a || !is_triangle(read.readings[b])) continue;
      const double apart = length(near - centroid(read.readings[b].triangle));
      if (apart < pitch) next = b, pitch = apart;
    }
    if (next == a || far > 1.5 * pitch || far < 0.4 * pitch) continue;
    const GroundPoint along = (near - centroid(read.readings[next].triangle)) * (1 / pitch);
    if (std::abs(cross(along, at - near)) > 0.8 * side) continue;
    best = {a, next}, least = far;
  }
  return best;
}

/// The nearest neighbour's triangle laid where it agrees best with what the piece shows.
std::optional<GroundRing> neighbours_triangle(const PiecesRead& read, std::size_t piece, const Neighbours& row,
                                              const Sight& sight) {
  const GroundRing& like = read.readings[row.nearest].triangle;
  const Patch patch = patch_around(read.pieces[piece], sight, Map::settled, Detail::map_alone);
  const cv::Mat map = shrunk(patch.footprint, kMapPixels), inside = shrunk(patch.inside, kMapPixels);
  const double pixels = static_cast<double>(map.cols) / patch.frame.width;
  MapAgreement agreement(map, inside > 127);
  const auto worth = [&](GroundPoint by, double scale) {
    PatchRing ring;
    for (const GroundPoint& p : moved(like, by, scale))
      ring.push_back(patch.frame.patch(p) * pixels);
    return agreement.of({ring});
  };
  const GroundPoint here = centroid(like), step = here - centroid(read.readings[row.second].triangle);
  const double side = std::sqrt(area(like));
  // where the row goes on, to either side of the nearest
  GroundPoint by = dot(step, read.pieces[piece].middle - here) > 0 ? step : step * -1.0;
  double scale = 1, best = worth(by, scale);
  for (double reach = 0.3 * side; reach > 0.01 * side; reach *= 0.6) {
    for (bool better = true; better;) {
      better = false;
      for (const GroundPoint d : {GroundPoint{reach, 0}, {-reach, 0}, {0, reach}, {0, -reach}}) {
        const double w = worth(by + d, scale);
        if (w > best) best = w, by = by + d, better = true;
      }
      for (const double s : {scale * (1 + 0.1 * reach / side), scale / (1 + 0.1 * reach / side)}) {
        const double w = std::abs(std::log(s)) < 0.15 ? worth(by, s) : 0;
        if (w > best) best = w, scale = s, better = true;
      }
    }
  }
  const Reading& reading = read.readings[piece];
  const double other = std::max(reading.shape ? reading.shape->agreement : 0.0, reading.bars.agreement);
  if (best < std::max(kLaidAgreement, other - kSimpler)) return std::nullopt;
  return moved(like, by, scale);
}

void lay_neighbours(PiecesRead& read, const Sight& sight) {
  for (std::size_t i = 0; i < read.pieces.size(); ++i) {
    Reading& reading = read.readings[i];
    if (is_triangle(reading) || reading.field) continue;
    const auto row = row_beside(read, i);
    if (!row) continue;
    auto triangle = neighbours_triangle(read, i, *row, sight);
    if (!triangle) continue;
    reading.triangle = std::move(*triangle);
    reading.explained = true;
  }
}

}  // namespace

void read_triangle_rows(PiecesRead& read, const Sight& sight) {
  name_chipped(read, sight);
  lay_neighbours(read, sight);
}

}  // namespace lotwear
