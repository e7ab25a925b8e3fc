using System.Collections.Concurrent;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>The band in one playing of a section: each part's decisions that span more than a bar. Made when a bar of the run is first
/// requested; always the same for the same chart, random seed and run.</summary>
internal sealed class RunBand
{
    // A longer chord is judged by its first units.
    private const int MostBlocked = 32;

    /// <summary>The lowest key that chords leave out for a suspension: no low note growls with it.</summary>
    private const int LowestWithheld = Voicings.LowIntervalLimit + ChordShapes.Fourth;

    private readonly bool _everyone;
    private readonly SoundingKeys _marked;
    private readonly IReadOnlyList<ChordShape>?[] _shapes;
    private readonly RollWriter?[] _rolls;
    private readonly KeySet[]?[] _strummedBefore;
    private readonly KeySet[] _strummed;
    private readonly PulseWriter?[] _pulses;
    private readonly ConcurrentDictionary<int, RunBand> _earlier = new();
    private readonly Func<int, RunBand>? _bandOf;
    private readonly IReadOnlyList<BassNote>?[] _basses;
    private readonly SustainLine?[] _sustains;
    private readonly IReadOnlyList<TuneLine>[] _tunes;
    private readonly ByBar<BassNote>?[] _bassesByBar;
    private readonly ByBar<HeldNote>?[] _sustainsByBar;
    private readonly IReadOnlyList<ByBar<TuneLineNote>>[] _tunesByBar;

    public RunBand(FormPlan plan, SectionRun run, IReadOnlyList<Part> parts, IReadOnlyList<ChordShapes?> shapes, Chance chance, ArrangementPlan arrangement, int playing, bool leadsOn, Func<SectionRun, int, RunBand>? bandOf = null, bool everyone = false)
    {
        Parts = parts;
        _everyone = everyone;
        Chance = chance;
        Swing = plan.Chart.Swing;
        GroupRatio = plan.Chart.GroupRatio;
        Outline = new RunOutline(plan, run);
        var before = bandOf is null ? EarlierPlayings.None : EarlierPlayings.Before(plan, arrangement, Outline, playing);
        Playing = new RunPlaying(Outline, arrangement, playing, parts, chance, before);
        _bandOf = bandOf is null ? null : earlier => _earlier.GetOrAdd(earlier, _ => bandOf(before.RunOf(earlier), earlier));
        Outline.Break(bar => Playing.TasksIn(bar).Tasks.Contains(PartTask.Break));
        LeadsOn = leadsOn;
        var singers = Enumerable.Range(0, parts.Count).Where(part => parts[part].Role == Role.Tune).ToArray();
        Tune = TuneLine.For(Outline, 0, singers.Any(Plays), leadsOn && singers.Any(PlaysNext) ? [0] : [], phrased: false);
        _tunes = [.. Enumerable.Range(0, parts.Count).Select(part => (IReadOnlyList<TuneLine>)(singers.Contains(part) ? [.. LinesOf(part, parted: true)] : []))];
        _tunesByBar = [.. _tunes.Select(lines =>
            (IReadOnlyList<ByBar<TuneLineNote>>)[.. lines.Select(line => new ByBar<TuneLineNote>(Outline, line.Notes, note => note.Note.Onset))])];

        Sung = SungKeys();
        _shapes = new IReadOnlyList<ChordShape>?[parts.Count];
        _rolls = new RollWriter?[parts.Count];
        _pulses = new PulseWriter?[parts.Count];
        _basses = new IReadOnlyList<BassNote>?[parts.Count];
        _sustains = new SustainLine?[parts.Count];
        _bassesByBar = new ByBar<BassNote>?[parts.Count];
        _sustainsByBar = new ByBar<HeldNote>?[parts.Count];
        var held = new List<LineNote>();
        // What a later playing keeps, it keeps beside the others of the first one.
        var first = playing == 0 ? Playing : new RunPlaying(Outline, arrangement, 0, parts, chance, EarlierPlayings.None);
        var heldAtFirst = new List<LineNote>();
        // Parts in order of priority: bass, sustain, pulse, roll.
        ForEach(Role.Bass, part =>
        {
            _basses[part] = BassLine.For(Outline, parts[part], part, Playing, leadsOn);
            _bassesByBar[part] = new ByBar<BassNote>(Outline, _basses[part]!, note => note.Note.Onset);
            held.AddRange(_basses[part]!.Select(note => note.Note));
            heldAtFirst.AddRange((playing == 0 ? _basses[part]! : BassLine.For(Outline, parts[part], part, first, leadsOn)).Select(note => note.Note));
        });
        _marked = InOrder(held);
        ForEach(Role.Sustain, part =>
        {
            _sustains[part] = SustainLine.For(Outline, parts[part], part, Playing, Sung, InOrder(held), InOrder(heldAtFirst), bar => WhenNew(part, bar)?.SustainOf(part));
            _sustainsByBar[part] = new ByBar<HeldNote>(Outline, _sustains[part]!.Notes, note => note.Note.Onset);
            held.AddRange(_sustains[part]!.Notes.Select(note => note.Note));
            heldAtFirst.AddRange(_sustains[part]!.AtFirst);
        });
        var sounding = InOrder(held);
        Held = InOrder([.. held, .. Withheld()]);
        var chorded = Outline.Chords.Select(stretch => new HashSet<int>(sounding.KeysIn(stretch.Onset, stretch.End))).ToArray();
        _strummedBefore = new KeySet[parts.Count][];
        _strummed = new KeySet[chorded.Length];
        ForEach(Role.Pulse, part =>
        {
            _strummedBefore[part] = [.. _strummed];
            TakeShapes(part, shapes[part]!, chorded);
            for (var chord = 0; chord < _strummed.Length; chord++)
            {
                _strummed[chord] |= _shapes[part]![chord].KeySet;
            }
        });
        ForEach(Role.Roll, part =>
        {
            TakeShapes(part, shapes[part]!, chorded);
            _rolls[part] = new RollWriter(this, part);
        });
        ForEach(Role.Pulse, part => _pulses[part] = new PulseWriter(this, part));
    }

    public IReadOnlyList<Part> Parts { get; }

    public Chance Chance { get; }

    public RunOutline Outline { get; }

    /// <summary>What the arrangement asks, and what differs from other playings of the section.</summary>
    public RunPlaying Playing { get; }

    /// <summary>The swing ratio, long half to short half.</summary>
    public Rational Swing { get; }

    /// <summary>How much longer a group of three units is than a group of two.</summary>
    public double GroupRatio { get; }

    /// <summary>True when another run follows, to which parts may lead; false at the end of the piece.</summary>
    public bool LeadsOn { get; }

    /// <summary>The tune as written.</summary>
    public TuneLine Tune { get; }

    /// <summary>The sounding keys of the tune parts; strokes and rolls keep more than two semitones away.</summary>
    public SoundingKeys Sung { get; }

    /// <summary>The keys held by bass and sustain, and those that chords leave out until a suspension resolves.</summary>
    public SoundingKeys Held { get; }

    /// <summary>The keys that the strokes of a part may not double: those held by bass and sustain. The full chords of a guitar may double
    /// a note of the sustain, which they would otherwise hardly ever reach.</summary>
    public SoundingKeys ReservedFor(int part) => Parts[part].Instrument.Strings.Count >= ChordShapes.StringsOfAGuitar ? _marked : Held;

    /// <summary>The keys under a chord of the pulse parts before a part, which it does not double.</summary>
    public KeySet StrummedBefore(int part, int chord) => _strummedBefore[part]![chord];

    /// <summary>True when a part plays in this section.</summary>
    public bool Plays(int part) => PlaysIn(Outline.Run.Section, part)
        && (_everyone || Parts[part].Role is Role.Tune or Role.Count || !Playing.Rests(part));

    public IReadOnlyList<ChordShape> ShapesOf(int part) => _shapes[part]!;

    /// <summary>The keys of the strums of a chord.</summary>
    public KeySet StrummedIn(int chord) => _strummed[chord];

    /// <summary>The band when a part first had the same task in a bar; null when its task is new there, or the part did not play.</summary>
    public RunBand? WhenNew(int part, int barInRun) =>
        _bandOf is not null && Playing.FirstWithTask(part, barInRun) is { } first && _bandOf(first) is var band && band.Plays(part) ? band : null;

    public PulseWriter PulseOf(int part) => _pulses[part]!;

    public RollWriter RollOf(int part) => _rolls[part]!;

    public IReadOnlyList<BassNote> BassOf(int part) => _basses[part]!;

    public SustainLine SustainOf(int part) => _sustains[part]!;

    /// <summary>The notes of a part's bass that start in a bar of the run, each with its index in the line.</summary>
    public IEnumerable<(int Index, BassNote Note)> BassIn(int part, int barInRun) => _bassesByBar[part]!.In(barInRun);

    /// <summary>The notes of a part's held voices that start in a bar of the run.</summary>
    public IEnumerable<(int Index, HeldNote Note)> SustainIn(int part, int barInRun) => _sustainsByBar[part]!.In(barInRun);

    /// <summary>The notes of all lines of the tune that a part plays and that start in a bar of the run.</summary>
    public IEnumerable<TuneLineNote> TuneIn(int part, int barInRun) =>
        _tunesByBar[part].SelectMany(line => line.In(barInRun)).Select(found => found.Item);

    /// <summary>The lines of the tune as a part plays them; usually only the tune.</summary>
    public IReadOnlyList<TuneLine> TunesOf(int part) => _tunes[part];

    private bool PlaysNext(int part) => PlaysIn(Outline.Next.Section, part);

    private bool PlaysIn(Section section, int part) =>
        Parts[part].Role == Role.Count || section.Playing is not { } playing || playing.Contains(part);

    // Lower ones are left alone: low notes near them would be refused as well.
    private IEnumerable<LineNote> Withheld() =>
        from line in _sustains
        where line is not null
        from withheld in line.Withheld
        from key in Enumerable.Range(LowestWithheld, 128 - LowestWithheld)
        where key % 12 == withheld.PitchClass
        select new LineNote(withheld.From, withheld.To - withheld.From, key, 0);

    private static SoundingKeys InOrder(List<LineNote> notes) => new([.. notes.OrderBy(note => note.Onset)]);

    private void TakeShapes(int part, ChordShapes shapes, HashSet<int>[] taken)
    {
        var along = shapes.Along(Outline, taken, ShapesWhenNew(part), Parts[part].Role == Role.Pulse ? chord => BlockedUnder(part, chord) : null);
        if (Parts[part].Role == Role.Pulse && Parts[part].Instrument.Strings.Count == 0)
        {
            // A strum omits keys that others hold; on strings, only while they hold them. Short roll notes may touch them.
            along = [.. along.Select((shape, i) => ChordShapes.Without(shape, taken[i]))];
        }

        _shapes[part] = along;
        for (var i = 0; i < taken.Length; i++)
        {
            taken[i].UnionWith(along[i].Keys);
        }
    }

    // The shape of each chord when the part first had the task of its bar; null where the task is new.
    private ChordShape?[] ShapesWhenNew(int part) => [.. Outline.Chords.Select(chord =>
    {
        var bar = Outline.BarAt(chord.Onset);
        if (WhenNew(part, bar) is not { } band)
        {
            return null;
        }

        var same = band.Outline.Chords.IndexAt(band.Outline.OnsetOf(bar) + (chord.Onset - Outline.OnsetOf(bar)));
        return band.Outline.Chords[same].Symbol.Equals(chord.Symbol) ? band.ShapesOf(part)[same] : null;
    })];

    // The keys that a strum leaves out, unit by unit: near the tune, held by others, or too close to them down low.
    private IReadOnlyList<BlockedKeys> BlockedUnder(int part, ChordSpan chord)
    {
        var blocked = new List<BlockedKeys>();
        var unit = Outline.Places[Outline.BarAt(chord.Onset)].Meter.Unit;
        var others = StrummedBefore(part, Outline.Chords.IndexAt(chord.Onset));
        for (var at = chord.Onset; at < chord.End && blocked.Count < MostBlocked; at += unit)
        {
            var keys = others | ReservedFor(part).KeysIn(at, at + unit) | Clearance.Around(Sung.KeysIn(at, at + unit)) | Clearance.GrowlingWith(Held.KeysIn(at, at + unit));
            blocked.Add(new BlockedKeys(keys, at == chord.Onset || Outline.OnsetOf(Outline.BarAt(at)) == at));
        }

        return blocked;
    }

    private void ForEach(Role role, Action<int> act)
    {
        for (var part = 0; part < Parts.Count; part++)
        {
            if (Parts[part].Role == role && Plays(part))
            {
                act(part);
            }
        }
    }

    private IEnumerable<TuneLine> LinesOf(int part, bool parted)
    {
        var here = TunePlayers.LinesOf(Outline.Run.Section, Parts, part);
        var next = LeadsOn ? TunePlayers.LinesOf(Outline.Next.Section, Parts, part) : [];
        var lines = new List<TuneLine>();
        foreach (var line in here.Union(next).Order())
        {
            var settings = (TuneSettings)Parts[part].Settings;
            var made = TuneLine.For(Outline, line, here.Contains(line), next, settings.Phrasing).LaidBack(Outline, settings.LaidBack);
            made = parted && settings.Phrasing ? made.Parted(Outline, Swing) : made;
            lines.Add(lines.Aggregate(made, (left, other) => left.Beside(other)));
        }

        return lines;
    }

    private SoundingKeys SungKeys()
    {
        var notes = new List<LineNote>();
        for (var part = 0; part < Parts.Count; part++)
        {
            if (_tunes[part].Count == 0)
            {
                continue;
            }

            var octaves = 12 * ((TuneSettings)Parts[part].Settings).Octaves;
            // The others keep clear of the notes as written: the silences between them last otherwise where the units swing. A consonant held until
            // a late vowel sounds from the beat.
            notes.AddRange(LinesOf(part, parted: false).SelectMany(tune => tune.Notes).Select(note => new LineNote(
                note.Note.Onset - note.Late, note.Note.Length + note.Late, note.Note.Key + octaves, note.Note.Velocity)));
        }

        return InOrder(notes);
    }
}
