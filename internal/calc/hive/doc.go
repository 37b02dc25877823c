// Package hive turns the model of a hive box, which is data that a maker draws up,
// into parts, boards, inner volume, mass and warmth. It judges no model: whether bees
// like it is not for arithmetic to say.
//
// Symbols:
//
//	L, W   length and width as the model holds them, from outside or inside   mm
//	w      wall: the true thickness where one is given, else the model's      mm
//	a, b   inner length and width: L, W held from inside, else L - 2w, W - 2w mm
//	H      height of one section; c, of all brood and honey sections          mm
//	V      inner volume = a b c                                               l
//	k      conductivity of the wood across the grain                          W/(m K)
//	R      resistance of a wall, without surface films = w/k                  m2 K/W
//	Q      heat lost for each degree between inside and outside               W/K
//
// A part's length is the sum of each factor times the size of that name, plus a
// fixed amount. Its height is that of its section; for a part that belongs to no
// section, that of all sections together. Where a true thickness is given, it is the
// thickness of every board that has the model's wall as its thickness.
//
// Masses are those of the parts as plain boards at the asked moisture: rebates,
// holes, finish and fittings are neglected. Full mass adds the contents, by our
// estimate 0.5 kg for each litre of brood section (cells, stores and bees with air
// between them) and 1.0 kg for each litre of honey section (pots of honey of about
// 1.4 kg a litre filling seven tenths of it, all full). It is a figure for lifting and for mounts, so on the heavy side.
//
// Heat is that through the wood alone, six sides as thick as the wall, with the
// corners counted: Q = k (2(ab + bc + ca)/w + 0.54 x 4(a + b + c) + 0.15 x 8 w).
// Source of the shape factors, from memory: Langmuir, Adams & Meikle 1913, as in
// heat transfer textbooks; for inner sizes over a fifth of the wall.
//
// Start reading at Model and Hive.
package hive
