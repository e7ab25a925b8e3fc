using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>How a line of the tune is sung with the words of one verse: its phrases, and what they do to the loudness and the ends of its
/// notes. Written marks are in <see cref="TuneTouch"/>; the phrasing is added to them.</summary>
/// <remarks>
/// The rules are those of the KTH rule system (Friberg, Bresin and Sundberg 2006, Overview of the KTH rule system for musical performance,
/// Advances in Cognitive Psychology 2: 145-161); the amounts are from memory, unless a constant says otherwise. Rules that change onsets
/// are left out, since the band keeps its tempo.
/// </remarks>
internal sealed class TunePhrasing
{
    /// <summary>Phrase Arch: the loudness at a phrase's loudest note above its first and last notes, in decibels: as heard, with what High Loud
    /// adds or takes, and by itself at least and at most.</summary>
    private const double ArchDecibels = 5, LeastArchDecibels = 3.5, MostArchDecibels = 8;

    /// <summary>Phrase Arch in a phrase of fewer notes than <see cref="FullPhrase"/>.</summary>
    private const double ShortArchDecibels = 2;

    /// <summary>Phrase Arch in the parts of a divided phrase: the rule works on each level.</summary>
    private const double PartDecibels = 2;

    /// <summary>The number of notes from which a phrase has the whole arch.</summary>
    private const int FullPhrase = 4;

    /// <summary>Phrase Arch: where in the phrase its loudest place is, 0-1.</summary>
    private const double Turn = 0.6;

    /// <summary>High Loud: decibels louder for an octave higher, at most and at least. It is less where the arch already follows the line, even
    /// below zero where the arch alone would follow it too closely.</summary>
    private const double MostOctaveDecibels = 5, LeastOctaveDecibels = -5;

    /// <summary>High Loud: the correlation of loudness and pitch that is aimed at. Common practice, no source.</summary>
    private const double Following = 0.45;

    /// <summary>The variance of loudness from accents of the meter and human feel, in decibels squared, measured on the presets.</summary>
    private const double OtherVariance = 1.2;

    /// <summary>Repetition Articulation: the silence before a repeated note as a share of the time between them.</summary>
    private const double RepeatShare = 0.15;

    /// <summary>The shortest and longest silence before a repeated note, in milliseconds: 30 to 80 ms, less the deviation of two notes from
    /// human feel.</summary>
    private const int ShortestRepeat = 45, LongestRepeat = 58;

    /// <summary>Punctuation: the silence at the end of a phrase as a share of its last note.</summary>
    private const double EndShare = 0.12;

    /// <summary>The shortest and longest silence at the end of a phrase, in milliseconds.</summary>
    private const int ShortestEnd = 75, LongestEnd = 120;

    /// <summary>The silence at the end of a phrase before the same key, in milliseconds.</summary>
    private const int EndBeforeRepeat = 64;

    /// <summary>A phrase of more notes than this without a mark, rest or word that ends it is divided. Common practice, no source.</summary>
    private const int LongestPhrase = 14;

    /// <summary>The shortest phrase that a long note ends, in notes. Common practice, no source.</summary>
    private const int ShortestPhrase = 4;

    /// <summary>A note of this many times the usual length that ends a bar group ends a phrase. Common practice, no source.</summary>
    private static readonly Rational LongAtGroupEnd = new(3, 2);

    /// <summary>A slur over this many notes or more is a phrase mark. Common practice, no source.</summary>
    private const int PhraseSlur = 5;

    /// <summary>Duration Contrast: the loudness of a note by its length, in milliseconds and decibels; between them linear. Notes of about
    /// 200 ms are softer than long ones.</summary>
    private static readonly (double Milliseconds, double Decibels)[] Contrast = [(30, 0), (200, -0.8), (400, -0.5), (600, 0)];

    private readonly TuneVoice _voice;
    private readonly bool[] _ends;
    private readonly (int First, int Last)[] _phrases;
    private readonly (int First, int Last)[] _parts;
    private readonly double[] _heights;
    private readonly double _meanKey;
    private readonly double _octaveDecibels;

    /// <summary>Finds the phrases of a line.</summary>
    /// <param name="section">Its section.</param>
    /// <param name="voice">The line.</param>
    /// <param name="words">The syllables of the verse that is sung, one or null for each note; may be shorter.</param>
    public TunePhrasing(Section section, TuneVoice voice, IReadOnlyList<Syllable?> words)
    {
        var notes = voice.Notes;
        _voice = voice;
        _ends = new bool[notes.Count];
        _meanKey = notes.Count == 0 ? 0 : notes.Average(note => note.Pitch.Midi);
        var (phrases, parts) = FindEnds(words, GroupStarts(section));
        _phrases = Stretches(phrases);
        _parts = Stretches(parts);
        _heights = HeightsOf();
        _octaveDecibels = HighLoud();
        _heights = HeightsOf();
        _octaveDecibels = HighLoud();
    }

    /// <summary>True for the last note of a phrase.</summary>
    public bool EndsPhrase(int note) => _ends[note];

    /// <summary>How much louder than the tune's own level a note is sung, in decibels.</summary>
    /// <param name="index">The note's number in the line.</param>
    /// <param name="tempo">The tempo at the note.</param>
    public double DecibelsOf(int index, Tempo tempo)
    {
        var note = _voice.Notes[index];
        return Arch(index) + (OctavesUp(note) * _octaveDecibels) + ContrastOf(tempo.Seconds(note.Length).ToDouble() * 1000);
    }

    /// <summary>The silence after a note of a length before the same key sounds again, in milliseconds.</summary>
    public static double RepeatGap(double milliseconds) => Math.Clamp(RepeatShare * milliseconds, ShortestRepeat, LongestRepeat);

    /// <summary>The silence after the last note of a phrase, in milliseconds.</summary>
    /// <param name="milliseconds">The note's length.</param>
    /// <param name="repeats">True when the same key sounds next, or may: not much longer than before another repeated note.</param>
    public static double EndGap(double milliseconds, bool repeats) => repeats ? EndBeforeRepeat : Math.Clamp(EndShare * milliseconds, ShortestEnd, LongestEnd);

    private double OctavesUp(TuneNote note) => (note.Pitch.Midi - _meanKey) / 12;

    // With variance v of pitch, covariance c of arch and pitch, and variance r of all that does not follow pitch, a line of slope k has
    // the correlation (c + kv) / sqrt(v r + (c + kv)^2).
    private double HighLoud()
    {
        var notes = _voice.Notes;
        if (notes.Count == 0)
        {
            return 0;
        }

        var arch = Enumerable.Range(0, notes.Count).Select(Arch).ToArray();
        var mean = arch.Average();
        var pitch = notes.Average(note => OctavesUp(note) * OctavesUp(note));
        if (pitch == 0)
        {
            return 0;
        }

        var both = notes.Select((note, i) => OctavesUp(note) * (arch[i] - mean)).Average();
        var rest = arch.Average(one => (one - mean) * (one - mean)) + OtherVariance - (both * both / pitch);
        var wanted = Following * Math.Sqrt(rest * pitch / (1 - (Following * Following)));
        return Math.Clamp((wanted - both) / pitch, LeastOctaveDecibels, MostOctaveDecibels);
    }

    // The mean over evenly spread notes is about zero, so that phrasing does not change the tune's level.
    private double Arch(int index)
    {
        var (phrase, part) = (_phrases[index], _parts[index]);
        return (_heights[index] * ArchOver(phrase, index)) + (part == phrase ? 0 : PartDecibels * ArchOver(part, index));
    }

    // The height of the phrase in which each note lies.
    private double[] HeightsOf()
    {
        var heights = new double[_phrases.Length];
        for (var i = 0; i < heights.Length; i++)
        {
            heights[i] = i > _phrases[i].First ? heights[i - 1] : HeightOf(_phrases[i]);
        }

        return heights;
    }

    // The height of a phrase's arch, greater where its line falls and rises again: High Loud takes some of it away.
    private double HeightOf((int First, int Last) phrase)
    {
        if (phrase.Last + 1 - phrase.First < FullPhrase)
        {
            return ShortArchDecibels;
        }

        var notes = Enumerable.Range(phrase.First, phrase.Last + 1 - phrase.First).Select(i => (Arch: ArchOver(phrase, i), Up: OctavesUp(_voice.Notes[i]))).ToArray();
        var (arch, up) = (notes.Average(note => note.Arch), notes.Average(note => note.Up));
        var both = notes.Average(note => (note.Arch - arch) * (note.Up - up));
        var follows = both / notes.Average(note => (note.Arch - arch) * (note.Arch - arch));
        return Math.Clamp(ArchDecibels - (_octaveDecibels * follows), LeastArchDecibels, MostArchDecibels);
    }

    // An arch of height one.
    private double ArchOver((int First, int Last) stretch, int index)
    {
        var (first, last) = stretch;
        if (first == last)
        {
            return 0;
        }

        var notes = _voice.Notes;
        var at = ((notes[index].Onset - notes[first].Onset) / (notes[last].Onset - notes[first].Onset)).ToDouble();
        var below = at < Turn ? (Turn - at) / Turn : (at - Turn) / (1 - Turn);
        return (1.0 / 3) - (below * below);
    }

    private static double ContrastOf(double milliseconds)
    {
        for (var i = 1; i < Contrast.Length; i++)
        {
            var ((before, softer), (after, louder)) = (Contrast[i - 1], Contrast[i]);
            if (milliseconds <= after)
            {
                return softer + ((louder - softer) * Math.Max(0, (milliseconds - before) / (after - before)));
            }
        }

        return 0;
    }

    // The first and last note of the stretch in which each note lies.
    private static (int First, int Last)[] Stretches(bool[] ends)
    {
        var stretches = new (int First, int Last)[ends.Length];
        for (int from = 0, i = 0; i < ends.Length; i++)
        {
            if (ends[i])
            {
                Array.Fill(stretches, (from, i), from, i + 1 - from);
                from = i + 1;
            }
        }

        return stretches;
    }

    // Marks where notes part, and returns where phrases end, and the parts of which they consist. A long note inside a bar group ends only a
    // part.
    private (bool[] Phrases, bool[] Parts) FindEnds(IReadOnlyList<Syllable?> words, List<Span> groupStarts)
    {
        var notes = _voice.Notes;
        var (phrases, parts) = (new bool[notes.Count], new bool[notes.Count]);
        if (notes.Count == 0)
        {
            return (phrases, parts);
        }

        var median = notes.Select(note => note.Length).Order().ElementAt(notes.Count / 2);
        var (commas, stops) = EndsOfWords(words);
        var slurred = EndsOfSlurs();
        var (group, began) = (0, 0);
        var from = 0;
        for (var i = 0; i < notes.Count; i++)
        {
            var note = notes[i];
            var next = i + 1 < notes.Count ? notes[i + 1] : null;
            var count = i + 1 - from;
            var rest = next is null ? Span.Zero : next.Onset - note.Onset - note.Length;
            var isLong = note.Length >= median * 2 && next is not null && next.Length < note.Length;
            var breathes = next is null || stops.Contains(i) || slurred.Contains(i) || note.Has(MarkKind.BreathMark) || note.Has(MarkKind.Caesura)
                || (rest > Span.Zero && rest * 2 >= median);
            while (group < groupStarts.Count && groupStarts[group] <= note.Onset)
            {
                group++;
            }

            var endsGroup = next is not null && group < groupStarts.Count && groupStarts[group] <= next.Onset && note.Length >= median * LongAtGroupEnd;
            var full = count >= ShortestPhrase && notes.Count - 1 - i >= ShortestPhrase;
            var ends = breathes || endsGroup || (commas.Contains(i) && i + 1 - began >= ShortestPhrase);
            _ends[i] = ends || commas.Contains(i) || (full && isLong);
            if (ends || (full && isLong))
            {
                phrases[i] = ends;
                began = ends ? i + 1 : began;
                parts[i] = true;
                Divide(parts, from, i);
                from = i + 1;
            }
        }

        return (phrases, parts);
    }

    // Divided where the notes part, if anywhere, else after the longest note; of several at the one nearest to the middle.
    private void Divide(bool[] parts, int first, int last)
    {
        if (last + 1 - first <= LongestPhrase)
        {
            return;
        }

        var notes = _voice.Notes;
        var best = Enumerable.Range(first + ShortestPhrase - 1, last + 2 - first - (2 * ShortestPhrase))
            .OrderByDescending(i => _ends[i])
            .ThenByDescending(i => notes[i + 1].Onset - notes[i].Onset)
            .ThenBy(i => Math.Abs((2 * i) + 1 - first - last))
            .First();
        _ends[best] = true;
        parts[best] = true;
        Divide(parts, first, best);
        Divide(parts, best + 1, last);
    }

    private (HashSet<int> Commas, HashSet<int> Stops) EndsOfWords(IReadOnlyList<Syllable?> words)
    {
        var commas = new HashSet<int>();
        var stops = new HashSet<int>();
        for (var i = 0; i < Math.Min(words.Count, _voice.Notes.Count); i++)
        {
            if (words[i] is { Place: SyllablePlace.Single or SyllablePlace.End } syllable
                && syllable.Text.TrimEnd('"', '\'', ')', ']', '”', '’', '»', ' ') is [.., var sign])
            {
                var ends = sign == ',' ? commas : sign is '.' or ';' or ':' or '!' or '?' or '…' or '—' or '–' ? stops : null;
                ends?.Add(Math.Min(i + syllable.Notes, _voice.Notes.Count) - 1);
            }
        }

        return (commas, stops);
    }

    // The bar lines at which bar groups start. An inserted bar belongs to the group before it.
    private static List<Span> GroupStarts(Section section)
    {
        var starts = new List<Span>();
        var (at, counted, total) = (Span.Zero, 0, section.Bars.Count(bar => !bar.Inserted));
        foreach (var bar in section.Bars)
        {
            if (!bar.Inserted && section.BarGroups.PlaceOf(counted++, total).IsFirst)
            {
                starts.Add(at);
            }

            at += bar.Meter.Length;
        }

        return starts;
    }

    private HashSet<int> EndsOfSlurs()
    {
        var ends = new HashSet<int>();
        var open = new Dictionary<int, int>();
        for (var i = 0; i < _voice.Notes.Count; i++)
        {
            foreach (var slur in _voice.Notes[i].Marks.Where(mark => mark.Kind == MarkKind.Slur))
            {
                var number = slur.Number ?? 1;
                if (slur.Edge == MarkEdge.Stop && open.Remove(number, out var begun) && i + 1 - begun >= PhraseSlur)
                {
                    ends.Add(i);
                }
            }

            foreach (var slur in _voice.Notes[i].Marks.Where(mark => mark is { Kind: MarkKind.Slur, Edge: MarkEdge.Start }))
            {
                open[slur.Number ?? 1] = i;
            }
        }

        return ends;
    }
}
