using GrooveLab.Music.Band;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Bars;

/// <summary>One step of a controller curve: its value holds until the part's next step. A swell is many small steps.</summary>
/// <param name="Part">The index of the part in the band.</param>
/// <param name="Onset">From the bar line, at least 0 and less than the bar's length.</param>
/// <param name="Controller">MIDI controller number; 11 is expression.</param>
/// <param name="Value">0-127.</param>
/// <param name="OffsetMicroseconds">The human feel of its note, in microseconds.</param>
public readonly record struct ControlPoint(int Part, Span Onset, int Controller, int Value, int OffsetMicroseconds);
