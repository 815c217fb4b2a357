#pragma once
// One photo of an invented lot with sound markings, for stories about files. Only for tests that link lotwear_render.

#include <string>

#include "rendering/render.hpp"

namespace lotwear::test {

/// JPEG bytes. Another seed is another lot; seeds from 80000 on.
inline std::string rendered_photo(std::uint64_t seed = 80'000, double megapixels = 2) {
  return rendering::render(rendering::draw_scene(rendering::Tier::clear, seed, megapixels, load_shapes(LOTWEAR_MODELS)))
      .photo;
}

/// The same picture in a file of other content: a comment stands before everything else.
inline std::string with_comment(const std::string& jpeg, const std::string& comment) {
  std::string marker = "\xFF\xFE";
  marker += static_cast<char>((comment.size() + 2) >> 8);
  marker += static_cast<char>((comment.size() + 2) & 0xFF);
  return jpeg.substr(0, 2) + marker + comment + jpeg.substr(2);
}

}  // namespace lotwear::test
