using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.ToScore;

/// <summary>Decides which notes of a staff need an accidental: those that differ from the key signature or from an earlier accidental of the
/// measure, and reminders after one in another octave or in the measure before.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class AccidentalWriter
{
    private const int Letters = 7;
    private const int LowestOctave = SpelledPitch.LowestOctave;
    private const int Places = Letters * (SpelledPitch.HighestOctave - LowestOctave + 1);

    private static readonly PrintedAccidental?[] Signs = [.. SignNames.Select(name => new PrintedAccidental(name))];
    private static readonly PrintedAccidental?[] Reminders = [.. SignNames.Select(name => new PrintedAccidental(name) { IsCautionary = true })];

    private readonly sbyte[] _alters = new sbyte[Places];
    private readonly bool[] _written = new bool[Places];
    private readonly sbyte[] _key = new sbyte[Letters];

    // Letters that had another accidental than the key's, in the measure before and in this one.
    private int _before;
    private int _now;

    private static string[] SignNames => ["triple-flat", "flat-flat", "flat", "natural", "sharp", "double-sharp", "triple-sharp"];

    /// <summary>A number for what the measure before left to remind of: equal music after equal numbers is written the same.</summary>
    public int Memory => _before;

    /// <summary>Begins a measure.</summary>
    /// <param name="fifths">Sharps of the key signature; negative for flats.</param>
    public void Begin(int fifths)
    {
        _before = _now;
        _now = 0;
        for (var letter = 0; letter < Letters; letter++)
        {
            // F C G D A E B, the order of sharps: F is letter 3, each next one four letters up.
            var rank = ((letter - 3 + Letters) * 2) % Letters;
            _key[letter] = (sbyte)FloorDivide(fifths + Letters - 1 - rank, Letters);
        }

        for (var place = 0; place < Places; place++)
        {
            _alters[place] = _key[place % Letters];
            _written[place] = false;
        }
    }

    /// <summary>Jumps over a measure that is already written.</summary>
    /// <param name="memory">The <see cref="Memory"/> that it leaves.</param>
    public void Leave(int memory) => _now = memory;

    /// <summary>What this measure leaves to remind of.</summary>
    public int Left => _now;

    /// <summary>The accidental before a note; null for none.</summary>
    /// <param name="pitch">The written pitch.</param>
    /// <param name="isTied">True when the note is tied to the one before it.</param>
    public PrintedAccidental? Before(SpelledPitch pitch, bool isTied)
    {
        var letter = (int)pitch.Letter;
        var place = ((pitch.Octave - LowestOctave) * Letters) + letter;
        var alter = (sbyte)(pitch.Alter.Numerator / pitch.Alter.Denominator);
        if (alter != _key[letter])
        {
            _now |= 1 << letter;
        }

        if (isTied)
        {
            return null;
        }

        var wanted = alter != _alters[place];
        var reminder = !wanted && !_written[place] && alter == _key[letter] && ((_before | _now) >> letter & 1) != 0;
        if (wanted || reminder)
        {
            _alters[place] = alter;
            _written[place] = true;
            return (wanted ? Signs : Reminders)[alter + (Signs.Length / 2)];
        }

        return null;
    }

    private static int FloorDivide(int a, int b) => (a >= 0 ? a : a - b + 1) / b;
}
