#pragma once
// Letters of a legend laid as the strokes of the word that they spell: what has come off a letter, or a whole letter,
// stays part of the marking.

#include <vector>

#include "marking/marking.hpp"
#include "marking/reading.hpp"

namespace lotwear {

struct LaidWord {
  std::string text;
  GroundPoint middle;
  Footprint drawn;                    ///< of the letters that have lost strokes; no rings where all are whole
  std::vector<std::size_t> replaced;  ///< pieces that these letters stand for
};

/// Words in the order of reading. Letters that are whole keep their own outlines: alphabets differ. `lettered`: one a
/// piece (letters_among); `words` of load_words.
std::vector<LaidWord> lay_words(const PiecesRead& read, const std::vector<bool>& lettered, const Sight& sight,
                                const std::vector<Shape>& words);

/// Writes each word's text to the legend that it is part of.
void label_legends(std::vector<Footprint>& footprints, const std::vector<LaidWord>& words);

}  // namespace lotwear
