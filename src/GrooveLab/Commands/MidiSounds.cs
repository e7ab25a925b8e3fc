using GrooveLab.Audio.BuiltInSounds;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Music.Bars;

using SoundFontPreset = GrooveLab.Audio.SoundFonts.SoundFontPreset;

namespace GrooveLab.Commands;

/// <summary>Finds the sounds that a MIDI file uses, and the sounds of a bank that play them.</summary>
internal static class MidiSounds
{
    private const int BankSelect = 0;
    private const int PortChannels = 16;
    private const int Programs = 128;
    private const int MostNamed = 8;

    /// <summary>
    /// The messages with sounds that the bank has, and a line for each sound that another one replaces. The built-in bank has a table for this;
    /// other banks use their nearest preset. A bank without a drum kit, or without pitched sounds, leaves those notes to the built-in bank.
    /// </summary>
    public static (TimedChannelEvent[] Events, IReadOnlyList<string> Remarks) For(SoundFontBank bank, TimedChannelEvent[] events)
    {
        if (bank.Name == Banks.BuiltIn)
        {
            return BuiltIn(bank, events, pitched: true, kit: true);
        }

        var missing = Missing(bank, events);
        if (BandSounds.StandIn(bank) is not { } standIn)
        {
            return (events, missing);
        }

        var pitched = bank.FindPreset(0, 0).IsOtherKind;
        var (played, remarks) = BuiltIn(standIn, events, pitched, kit: !pitched);
        return (played, [.. missing, .. remarks]);
    }

    private static bool IsPercussion(int channel) => channel % PortChannels == PartChannels.PercussionChannel;

    private static (TimedChannelEvent[] Events, IReadOnlyList<string> Remarks) BuiltIn(
        SoundFontBank bank, TimedChannelEvent[] events, bool pitched, bool kit)
    {
        var played = new List<TimedChannelEvent>(events.Length);
        var used = new SortedSet<int>();
        var struck = new SortedSet<int>();
        var programs = new int[PartChannels.MostChannels];
        var drums = FirstPercussion();
        foreach (var (frame, item) in events)
        {
            var percussion = drums[item.Channel];
            if (!(percussion ? kit : pitched) && item.Kind is not (ChannelEventKind.Percussion or ChannelEventKind.Reset))
            {
                played.Add(new(frame, item));
                continue;
            }

            switch (item.Kind)
            {
                case ChannelEventKind.NoteOn or ChannelEventKind.NoteOff when percussion:
                    struck.Add(item.Number);
                    played.Add(new(frame, item with { Number = GeneralMidiSounds.StandInForKey(item.Number) }));
                    break;
                case ChannelEventKind.Program:
                    programs[item.Channel] = item.Number;
                    played.Add(new(frame, item with { Number = percussion ? 0 : GeneralMidiSounds.Programs[item.Number].StandIn }));
                    break;
                case ChannelEventKind.Control when item.Number == BankSelect:
                    // General MIDI has one bank; variations of its sounds play as the sounds themselves.
                    break;
                case ChannelEventKind.NoteOn:
                    used.Add(programs[item.Channel]);
                    played.Add(new(frame, item));
                    break;
                case ChannelEventKind.Percussion:
                    drums[item.Channel] = item.Value != 0;
                    programs[item.Channel] = 0;
                    played.Add(new(frame, item));
                    if (item.Value == 0 && pitched)
                    {
                        played.Add(new(frame, new ChannelEvent(ChannelEventKind.Program, item.Channel, GeneralMidiSounds.Programs[0].StandIn, 0)));
                    }

                    break;
                case ChannelEventKind.Reset:
                    Array.Clear(programs);
                    drums = FirstPercussion();
                    played.Add(new(frame, item));
                    if (pitched)
                    {
                        played.AddRange(FirstPrograms(frame));
                    }

                    break;
                default:
                    played.Add(new(frame, item));
                    break;
            }
        }

        if (pitched)
        {
            played.InsertRange(0, FirstPrograms(0));
        }

        var remarks = used.Select(program => GeneralMidiSounds.Programs[program])
            .Where(sound => sound.StandIn != sound.Number)
            .GroupBy(sound => sound.StandIn)
            .Select(same => $"{Names(same.Select(sound => sound.Name))}: played by {bank.FindPreset(0, same.Key).Preset.Name}")
            .Concat(struck.Where(key => GeneralMidiSounds.StandInForKey(key) != key)
                .GroupBy(GeneralMidiSounds.StandInForKey)
                .Select(same => $"{Names(same.Select(GeneralMidiSounds.DrumName))} (drum{(same.Count() == 1 ? string.Empty : "s")}): played by {GeneralMidiSounds.DrumName(same.Key)}"));
        return ([.. played], [.. remarks]);
    }

    private static string Names(IEnumerable<string> names)
    {
        var all = names.ToList();
        return string.Join(", ", all.Take(MostNamed)) + (all.Count > MostNamed ? $" and {all.Count - MostNamed} more" : string.Empty);
    }

    // A channel without a program change has program 0, which another sound plays here.
    private static IEnumerable<TimedChannelEvent> FirstPrograms(long frame) =>
        Enumerable.Range(0, PartChannels.MostChannels).Where(channel => !IsPercussion(channel))
            .Select(channel => new TimedChannelEvent(
                frame, new ChannelEvent(ChannelEventKind.Program, channel, GeneralMidiSounds.Programs[0].StandIn, 0)));

    private static bool[] FirstPercussion()
    {
        var drums = new bool[PartChannels.MostChannels];
        for (var channel = 0; channel < drums.Length; channel++)
        {
            drums[channel] = IsPercussion(channel);
        }

        return drums;
    }

    /// <summary>Prepares every sound that has notes, so that one that cannot be read is known before the piece begins.</summary>
    /// <param name="bank">The bank.</param>
    /// <param name="events">The messages.</param>
    /// <param name="stop">Ends it after the sound that it prepares.</param>
    /// <exception cref="SoundFontException">A sound cannot be read.</exception>
    /// <exception cref="OperationCanceledException">It was stopped.</exception>
    public static void Prepare(SoundFontBank bank, TimedChannelEvent[] events, CancellationToken stop)
    {
        foreach (var sound in Used(events))
        {
            stop.ThrowIfCancellationRequested();
            if (bank.FindPreset(sound / Programs, sound % Programs) is { IsOtherKind: false } choice)
            {
                bank.Prepare(choice.Preset);
            }
        }
    }

    private static List<string> Missing(SoundFontBank bank, TimedChannelEvent[] events)
    {
        var remarks = new List<string>();
        foreach (var same in Used(events).Select(sound => (Number: sound / Programs, Program: sound % Programs))
            .Select(sound => (sound.Number, Name: $"{sound.Number}:{sound.Program}", Choice: bank.FindPreset(sound.Number, sound.Program)))
            .Where(sound => !sound.Choice.IsExact)
            .GroupBy(sound => sound.Choice.IsOtherKind ? null : sound.Choice.Preset))
        {
            remarks.Add(same.Key is { } played
                ? $"preset{(same.Count() == 1 ? string.Empty : "s")} {Names(same.Select(sound => sound.Name))} not found in {bank.Name}: played by {played.Name} ({played.Bank}:{played.Program})"
                : $"{bank.Name} has no {(same.First().Number == SoundFontPreset.PercussionBank ? "drum kit" : "pitched sounds")}; played by the built-in sounds");
        }

        return remarks;
    }

    /// <summary>The sounds that have notes, in order: 128 times the bank number plus the program number.</summary>
    private static List<int> Used(TimedChannelEvent[] events)
    {
        var banks = new int[PartChannels.MostChannels];
        var drums = FirstPercussion();
        var sounds = new int[PartChannels.MostChannels];
        FirstSounds(sounds, drums);

        var used = new List<int>();
        foreach (var (_, item) in events)
        {
            switch (item.Kind)
            {
                case ChannelEventKind.Control when item.Number == BankSelect:
                    banks[item.Channel] = item.Value;
                    break;
                case ChannelEventKind.Program:
                    sounds[item.Channel] = ((drums[item.Channel] ? SoundFontPreset.PercussionBank : banks[item.Channel]) * Programs) + item.Number;
                    break;
                case ChannelEventKind.Percussion:
                    drums[item.Channel] = item.Value != 0;
                    sounds[item.Channel] = (drums[item.Channel] ? SoundFontPreset.PercussionBank : banks[item.Channel]) * Programs;
                    break;
                case ChannelEventKind.NoteOn:
                    var place = used.BinarySearch(sounds[item.Channel]);
                    if (place < 0)
                    {
                        used.Insert(~place, sounds[item.Channel]);
                    }

                    break;
                case ChannelEventKind.Reset:
                    Array.Clear(banks);
                    drums = FirstPercussion();
                    FirstSounds(sounds, drums);
                    break;
            }
        }

        return used;
    }

    private static void FirstSounds(int[] sounds, bool[] drums)
    {
        for (var channel = 0; channel < sounds.Length; channel++)
        {
            sounds[channel] = drums[channel] ? SoundFontPreset.PercussionBank * Programs : 0;
        }
    }
}
