using GrooveLab.Music.Band;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Bars;

/// <summary>
/// A step of a controller's curve: a value that holds until the part's next one. A swell is many small steps.
/// </summary>
/// <param name="Part">Index of the part in the band.</param>
/// <param name="Onset">From the bar line, not negative, less than the bar's length.</param>
/// <param name="Controller">MIDI controller number; 11 is expression.</param>
/// <param name="Value">0-127.</param>
/// <param name="OffsetMicroseconds">The human feel of the note that it shapes, in microseconds.</param>
public readonly record struct ControlPoint(int Part, Span Onset, int Controller, int Value, int OffsetMicroseconds);
