using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.FromScore;

/// <summary>
/// What chords a tune without any other line may have: the plain triads of its key, the dominant and a few others that its notes must ask for, with what each costs and
/// what each change costs. A single line leaves most chords open, so that custom decides more than the notes do. Common practice, no source.
/// </summary>
internal sealed class TuneHarmony
{
    // Shares of a bar, as multiples of what a chord tone gains.
    private const double ToneOfKey = 0.8;
    private const double ToneOutsideKey = 1.2;
    private const double SeventhOfDominant = 0.28;
    private const double UnheardChromaticTone = 0.5;
    private const double UnheardSeventh = 0.06;

    private const double ChangeAtBarLine = 0.12;
    private const double ChangeInsideBar = 0.35;
    private const double DominantToTonic = 0.1;
    private const double ToDominant = 0.06;
    private const double DominantBack = 0.2;

    private const double Begins = 0.3;
    private const double Ends = 1;
    private const double EndOfPhrase = 0.1;
    private const int PhraseBars = 4;

    // A score is one line if notes that sound together add at most a fiftieth.
    private const int OneLine = 50;

    // Half steps above the tonic.
    private const int Supertonic = 2;
    private const int Fourth = 5;
    private const int Fifth = 7;

    private readonly Key _key;
    private readonly int _tonic;
    private readonly List<TuneChord> _chords = [];

    public TuneHarmony(Key key)
    {
        _key = key;
        _tonic = key.Tonic.PitchClass;
        double[] usual = [0, 0.16, key.IsMinor ? 0.14 : 0.3, key.IsMinor ? 0.12 : 0.08, key.IsMinor ? 0.25 : 0.04, key.IsMinor ? 0.16 : 0.14, 0.14];
        for (var degree = 0; degree < key.Scale.Length; degree++)
        {
            var root = key.Scale[degree].PitchClass;
            if (key.Contains(root + Fifth))
            {
                Add(root, key.Contains(root + 3), usual[degree]);
            }
        }

        // The dominant is major in every key. The others are dominants of their fifths below, and the chord below the tonic.
        Add(_tonic + Fifth, false, key.Mode is KeyMode.Minor or KeyMode.Aeolian ? 0.06 : 0.1);
        _chords.Add(new TuneChord(PitchName.Modulo(_tonic + Fifth, 12), false, true, _chords.First(chord => chord.Root == PitchName.Modulo(_tonic + Fifth, 12) && !chord.IsMinor).Rarity));
        Add(_tonic + 2, false, 0.2);
        Add(_tonic + 10, false, 0.2);
        Add(_tonic + 9, false, 0.3);
        Add(_tonic + 4, false, 0.3);
    }

    /// <summary>The chords.</summary>
    public IReadOnlyList<TuneChord> Chords => _chords;

    /// <summary>True if more than one note almost never sounds at once.</summary>
    public static bool IsAlone(WrittenMusic music)
    {
        var (sounding, bars) = (Span.Zero, Span.Zero);
        for (var m = 0; m < music.Measures.Count; m++)
        {
            var here = music.Parts.SelectMany(part => part.Measures[m].Voices).SelectMany(voice => voice.Events).OfType<NotesEvent>()
                .Where(notes => notes is { Grace: null, IsCue: false }).Select(notes => notes.Length * notes.Notes.Count(note => note.Pitch is not null))
                .Aggregate(Span.Zero, (sum, length) => sum + length);
            sounding += here;
            bars += Span.Min(here, music.LengthOf(m) ?? here);
        }

        return sounding > Span.Zero && sounding * OneLine <= bars * (OneLine + 1);
    }

    /// <summary>How well a chord fits what sounds in a slot.</summary>
    /// <param name="chord">The chord.</param>
    /// <param name="weights">The weight of each pitch class.</param>
    /// <param name="sum">Their sum, over 0.</param>
    public double Score(TuneChord chord, IReadOnlyList<double> weights, double sum)
    {
        var score = -chord.Rarity;
        for (var pitch = 0; pitch < weights.Count; pitch++)
        {
            var share = weights[pitch] / sum;
            var seventh = pitch == PitchName.Modulo(chord.Root + 10, 12) && !chord.IsMinor && chord.Root == PitchName.Modulo(_tonic + Fifth, 12);
            if (chord.Has(pitch) || (chord.HasSeventh && seventh))
            {
                score += share > 0 ? share : chord.HasSeventh && seventh ? -UnheardSeventh : !_key.Contains(pitch) && !IsLeadingTone(chord, pitch) ? -UnheardChromaticTone : 0;
            }
            else
            {
                score -= share * (seventh ? SeventhOfDominant : _key.Contains(pitch) ? ToneOfKey : ToneOutsideKey);
            }
        }

        return score;
    }

    /// <summary>What a change from one chord to another gains; mostly less than 0.</summary>
    public double Change(TuneChord from, TuneChord to, bool atBarLine)
    {
        if (from.Root == to.Root && from.IsMinor == to.IsMinor)
        {
            return from.HasSeventh == to.HasSeventh ? 0 : -UnheardSeventh;
        }

        var (before, after) = (PitchName.Modulo(from.Root - _tonic, 12), PitchName.Modulo(to.Root - _tonic, 12));
        return -(atBarLine ? ChangeAtBarLine : ChangeInsideBar)
            + (before == Fifth && after == 0 ? DominantToTonic : 0)
            + (before is Supertonic or Fourth && after == Fifth ? ToDominant : 0)
            - (before == Fifth && after is Supertonic or Fourth ? DominantBack : 0);
    }

    /// <summary>What a chord gains by its place: the tonic at the start and the end, tonic and dominant at the end of a phrase.</summary>
    /// <param name="chord">The chord.</param>
    /// <param name="isFirst">True for the first slot of the tune.</param>
    /// <param name="isLast">True for its last slot.</param>
    /// <param name="bar">The bar if the slot ends it, from 0 after a pickup; otherwise null.</param>
    public double Place(TuneChord chord, bool isFirst, bool isLast, int? bar)
    {
        var degree = PitchName.Modulo(chord.Root - _tonic, 12);
        return (degree == 0 && isFirst ? Begins : 0) + (degree == 0 && isLast ? Ends : 0)
            + (degree is 0 or Fifth && (bar + 1) % PhraseBars == 0 ? EndOfPhrase : 0);
    }

    // The third of the major dominant in a minor key need not be heard.
    private bool IsLeadingTone(TuneChord chord, int pitch) =>
        chord.Root == PitchName.Modulo(_tonic + Fifth, 12) && pitch == PitchName.Modulo(_tonic + 11, 12);

    private void Add(int root, bool isMinor, double rarity)
    {
        root = PitchName.Modulo(root, 12);
        if (!_chords.Exists(chord => chord.Root == root && chord.IsMinor == isMinor))
        {
            _chords.Add(new TuneChord(root, isMinor, false, rarity));
        }
    }
}

/// <summary>A chord that a tune may have.</summary>
/// <param name="Root">The pitch class of its root.</param>
/// <param name="IsMinor">True for a minor triad, false for a major one.</param>
/// <param name="HasSeventh">True with a minor seventh.</param>
/// <param name="Rarity">What it costs.</param>
internal sealed record TuneChord(int Root, bool IsMinor, bool HasSeventh, double Rarity)
{
    /// <summary>True for a tone of its triad.</summary>
    public bool Has(int pitchClass) =>
        PitchName.Modulo(pitchClass - Root, 12) is 0 or 7 || PitchName.Modulo(pitchClass - Root, 12) == (IsMinor ? 3 : 4);
}
