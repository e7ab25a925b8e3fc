using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>The effect of a tune line's marks on its notes: length and loudness. Without marks each note lasts its value at the tune's
/// own level.</summary>
/// <remarks>
/// Common practice, no source: a staccato note sounds half its value, a wedge a quarter, a portato or marcato three quarters; a breath takes at least
/// 300 ms from the end of its note, and at most half of it; a tenuto note reaches into the next.
/// </remarks>
internal sealed class TuneTouch
{
    private const int BreathMilliseconds = 300;
    private const int TenutoMicroseconds = 30_000;
    private const int HairpinSteps = 9;
    private readonly TuneVoice _voice;
    private readonly List<(Span Onset, int Steps)> _levels = [];
    private readonly Dictionary<Span, int> _accents = [];
    private readonly List<(Span From, Span To, int Begins, int Ends)> _hairpins = [];

    /// <summary>Reads the dynamics of a line.</summary>
    public TuneTouch(TuneVoice voice)
    {
        _voice = voice;
        foreach (var dynamic in voice.Dynamics)
        {
            if (dynamic.Mark.Kind == MarkKind.Dynamics && IsAccent(dynamic.Mark.Text))
            {
                _accents[dynamic.Onset] = _accents.GetValueOrDefault(dynamic.Onset) + 1;
            }

            if (dynamic.Mark.Kind == MarkKind.Dynamics && LevelOf(dynamic.Mark.Text) is { } steps)
            {
                _levels.Add((dynamic.Onset, steps));
            }
        }

        TuneDynamic? begun = null;
        foreach (var dynamic in voice.Dynamics.Where(dynamic => dynamic.Mark.Kind == MarkKind.Wedge))
        {
            if (dynamic.Mark.Edge == MarkEdge.Start)
            {
                begun = dynamic;
            }
            else if (begun is not null && dynamic.Onset > begun.Onset)
            {
                AddHairpin(begun, dynamic.Onset);
                begun = null;
            }
        }
    }

    /// <summary>The velocity steps added to the tune's own level for a note.</summary>
    public int StepsOf(TuneNote note)
    {
        var steps = LevelAt(note.Onset);
        var hairpin = LastAt(_hairpins.Count, i => _hairpins[i].From, note.Onset);
        if (hairpin >= 0 && note.Onset < _hairpins[hairpin].To)
        {
            var (from, to, begins, ends) = _hairpins[hairpin];
            steps = begins + (int)((ends - begins) * ((note.Onset - from) / (to - from))).Round();
        }

        steps += 16 * _accents.GetValueOrDefault(note.Onset);

        // Several accents on a note count as one, as strong as the strongest.
        return steps + (note.Has(MarkKind.Unstress) ? -8 : 0) + note.Marks.Select(mark => AccentOf(mark.Kind)).DefaultIfEmpty().Max();
    }

    private static int AccentOf(MarkKind kind) => kind switch
    {
        MarkKind.StrongAccent => 20,
        MarkKind.Accent => 14,
        MarkKind.SoftAccent or MarkKind.Stress => 8,
        _ => 0,
    };

    /// <summary>The sounding length of a note.</summary>
    /// <param name="index">The note's number in the line.</param>
    /// <param name="from">The first bar line of the line's section, the origin of places for tempi.</param>
    /// <param name="tempoAt">The tempo at a place.</param>
    public Span LengthOf(int index, Span from, Func<Span, Tempo> tempoAt)
    {
        var note = _voice.Notes[index];
        var length = note.Length;
        if (note.Has(MarkKind.Staccatissimo) || note.Has(MarkKind.Spiccato))
        {
            length /= 4;
        }
        else if (note.Has(MarkKind.DetachedLegato) || (note.Has(MarkKind.Staccato) && note.Has(MarkKind.Tenuto)) || note.Has(MarkKind.StrongAccent))
        {
            length *= new Rational(3, 4);
        }
        else if (note.Has(MarkKind.Staccato))
        {
            length /= 2;
        }

        if (note.Has(MarkKind.BreathMark) || note.Has(MarkKind.Caesura))
        {
            var breath = Span.Of((tempoAt(from + note.Onset).WholesPerMinute * BreathMilliseconds / 60_000 * 960).Ceiling(), 960);
            var next = index + 1 < _voice.Notes.Count ? _voice.Notes[index + 1].Onset : note.Onset + note.Length;
            length = Span.Max(Span.Min(length, next - note.Onset - breath), Span.Min(length, note.Length / 2));
        }

        return length;
    }

    /// <summary>How far a note sounds into the next one, in microseconds.</summary>
    public int OverlapOf(int index)
    {
        var note = _voice.Notes[index];
        var next = index + 1 < _voice.Notes.Count ? _voice.Notes[index + 1] : null;
        var holds = note.Has(MarkKind.Tenuto) && !note.Has(MarkKind.Staccato) && !note.Has(MarkKind.BreathMark) && !note.Has(MarkKind.Caesura);
        return holds && next is not null && next.Onset == note.Onset + note.Length && next.Pitch.Midi != note.Pitch.Midi ? TenutoMicroseconds : 0;
    }

    // To the dynamic at its end if that is in the hairpin's direction; otherwise one step.
    private void AddHairpin(TuneDynamic begun, Span end)
    {
        var rises = begun.Mark.Text == "crescendo";
        var begins = LevelAt(begun.Onset);
        var ends = begins + (rises ? HairpinSteps : -HairpinSteps);
        for (var i = LastAt(_levels.Count, level => _levels[level].Onset, end); i >= 0 && _levels[i].Onset == end; i--)
        {
            if (_levels[i].Steps > begins == rises)
            {
                ends = _levels[i].Steps;
                break;
            }
        }

        _hairpins.Add((begun.Onset, end, begins, ends));
        var last = LastAt(_levels.Count, i => _levels[i].Onset, end);
        if (last < 0 || _levels[last].Onset != end)
        {
            _levels.Insert(last + 1, (end, ends));
        }
    }

    private int LevelAt(Span onset) => LastAt(_levels.Count, i => _levels[i].Onset, onset) is >= 0 and var last ? _levels[last].Steps : 0;

    // The last of things in order whose onset is there or before; -1 before the first.
    private static int LastAt(int count, Func<int, Span> onsetOf, Span place)
    {
        var low = -1;
        var high = count - 1;
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            if (onsetOf(middle) <= place)
            {
                low = middle;
            }
            else
            {
                high = middle - 1;
            }
        }

        return low;
    }

    private static bool IsAccent(string? text) => text is "sf" or "sfz" or "sffz" or "fz" or "fp" or "sfp" or "rf" or "rfz";

    private static int? LevelOf(string? text) => text switch
    {
        "n" => -50,
        "pppp" => -40,
        "ppp" => -33,
        "pp" => -25,
        "p" or "fp" or "sfp" => -16,
        "mp" => -7,
        "mf" => 0,
        "f" => 9,
        "ff" => 17,
        "fff" => 24,
        "ffff" => 30,
        _ => null,
    };
}
