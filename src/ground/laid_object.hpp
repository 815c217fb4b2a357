#pragma once
// One painted object laid on the ground of one pose: edges of one stripe or one shape of the trade keep the angles of
// their drawing. The object enters the comparison with strangers (laid_edges) with one direction, and answers for its
// own edges by how well they fit the drawing once it is turned. Angles in radians, log-likelihoods natural; an object
// has at least one edge, and all its edges name the same proportions.

#include <vector>

#include "ground/laid_edges.hpp"
#include "ground/paint_seen.hpp"

namespace lotwear {

/// A DrawnEdge made ready for every pose.
struct ObjectEdge {
  SeenEdge seen;
  double drawn = 0, tolerance = 0;    ///< as DrawnEdge has them
  std::vector<double> by_proportion;  ///< likewise
};
/// Surest edge first, the same one under every pose, or the likelihood would jump from pose to pose.
std::vector<ObjectEdge> object_edges(const DrawnObject& object, cv::Size photo);

struct LaidObject {
  Laid whole;
  double log_likelihood = 0;  ///< of its edges once it is turned as fits best
};

/// The object's turn and proportions that fit its edges best, strays among them outvoted; how well they fit then.
/// `object`: surest edge first.
LaidObject laid_object(const std::vector<ObjectEdge>& object, const PoseGround& ground, double blunt);

}  // namespace lotwear
