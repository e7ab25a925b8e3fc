using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics.X86;
using GrooveLab.Audio.SoundFonts;
using NAudio.SoundFont;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// One sounding region. It computes pitch, filter and gains from generators, modulators, envelopes and oscillators, piece by piece in
/// time, and a kernel makes the frames.
/// </summary>
/// <remarks>
/// A piece ends at the next quantum of absolute frames, at the end of a stage of the volume envelope, or where an event interrupts it,
/// whichever comes first. Gains are exact at its ends and linear between them. Voices are created once and reused.
/// </remarks>
internal sealed unsafe class Voice(VoiceContext context, VoiceLanes lanes, int lane)
{
    // The default release falls 100 dB in a millisecond, which clicks. 16 ms is the shortest that does not.
    private const float LeastReleaseTimecents = -7200;

    // Some twenty seconds, far below the counter's limit.
    private const int MostFramesBehind = 1 << 20;

    // 2^20 points a frame: far above hearing, and small enough that no position can overflow.
    private const double GreatestIncrement = 1 << 20;

    // What an idle voice holds, so that it keeps no sample in memory.
    private static readonly Region Idle = WarmUpSound.Make().Regions[0];

    // This voice's first number in the lanes, which never move.
    private readonly float* _column = lanes.Fields + lane;
    private readonly float[] _amounts = new float[GeneratorRange.Count];
    private Region _region = Idle;
    private ChannelState _channel = null!;
    private NoteTouch _touch;
    private float _programGain;
    private int _age;
    private SampleCursor _cursor;

    private VolumeEnvelope _volumeEnvelope;
    private ModulationEnvelope _modulationEnvelope;
    private LowFrequencyOscillator _modulationLfo;
    private LowFrequencyOscillator _vibratoLfo;

    private int _pieceLength;
    private int _pieceLeft;
    private bool _isPieceSilent;
    private StaticGains _pieceTarget;

    private StaticGains _gains;
    private StaticGains _gainsTarget;
    private float _cutoffCents;
    private float _cutoffTarget;
    private int _glideLeft;

    private bool _areGainsAtRest;

    private int _fadeLength;
    private int _fadeLeft;

    private float _pitchCents;
    private float _lastPitch;
    private bool _hasMovingPitch;

    private float _inverseQuality;
    private bool _isFiltered;
    private bool _isFilterAtRest;
    private bool _hasMovingCutoff;
    private float _lastCutoff;
    private LowPassCoefficients _lastCoefficients;

    private bool _hasSounded;
    private int _releaseLeft;

    // True if nothing changes until the next event; pieces then need no planning.
    private bool _isSteady;

    // Copies of the amounts that the oscillators and the modulation envelope affect, kept here because the amounts are far away in memory.
    private float _modulationLfoToPitch;
    private float _vibratoLfoToPitch;
    private float _envelopeToPitch;
    private float _modulationLfoToCutoff;
    private float _envelopeToCutoff;
    private float _modulationLfoToVolume;

    // Whether they affect anything. The oscillators are evaluated some frames ahead; the envelope advances only where it is audible.
    private bool _hasModulation;
    private bool _hasEnvelope;
    private int _framesBehind;
    private int _envelopeBehind;

    private double _incrementOfRatio;

    /// <summary>Whether the voice sounds, or will sound after its delay.</summary>
    public bool IsActive => (lanes.Active & (1u << lane)) != 0;

    /// <summary>Whether it is fading out within a few milliseconds and will then end.</summary>
    public bool IsFading => _fadeLength > 0;

    /// <summary>Whether its key has gone up.</summary>
    public bool IsKeyUp { get; private set; }

    /// <summary>Whether the sostenuto pedal holds it: its key was down when the pedal went down.</summary>
    public bool IsHeldBySostenuto { get; private set; }

    /// <summary>Whether it is in its release stage.</summary>
    public bool IsReleased { get; private set; }

    public int ChannelIndex { get; private set; }

    public int Key { get; private set; }

    public int Velocity { get; private set; }

    public int ExclusiveClass => _region.ExclusiveClass;

    /// <summary>The number of the note-on that started it, counting up.</summary>
    public long NoteId { get; private set; }

    /// <summary>Whether a voice of its note has been ended for another note.</summary>
    public bool IsNoteCut { get; set; }

    /// <summary>How loud it is now or, in its attack, will be; voice stealing uses it.</summary>
    public float Loudness => _volumeEnvelope.Stage <= EnvelopeStage.Hold
        ? Math.Max(_gains.Left, _gains.Right)
        : Math.Max(Lane(LaneField.Left), Lane(LaneField.Right));

    /// <summary>How loud it is now, as an amplitude factor.</summary>
    public float Level => Math.Max(Lane(LaneField.Left), Lane(LaneField.Right));

    /// <summary>Whether the beginning of its note is still being heard: its envelope still rises, or it started less than 50 ms ago.</summary>
    public bool IsInAttack => !IsReleased && (_volumeEnvelope.Stage < EnvelopeStage.Hold || _age < context.AttackFrames);

    /// <summary>Starts the voice on the next frame.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void Start(Region region, ChannelState channel, int channelIndex, int key, int velocity, long noteId, NoteTouch touch)
    {
        _region = region;
        _touch = touch;
        _channel = channel;
        _programGain = channel.ProgramGain;
        ChannelIndex = channelIndex;
        Key = key;
        Velocity = velocity;
        NoteId = noteId;
        IsNoteCut = false;
        lanes.Active |= 1u << lane;
        IsKeyUp = false;
        IsHeldBySostenuto = false;
        IsReleased = false;
        _pieceLength = 0;
        _pieceLeft = 0;
        _fadeLength = 0;
        _fadeLeft = 0;
        _lastPitch = float.NaN;
        _lastCutoff = float.NaN;
        _hasSounded = false;
        _releaseLeft = 0;
        _areGainsAtRest = false;
        _isSteady = false;
        _age = 0;
        _framesBehind = 0;
        _envelopeBehind = 0;
        _incrementOfRatio = (double)region.SampleRate / context.SampleRate * (1L << 32);
        lanes.Clear(lane);

        Modulate();
        _gains = _gainsTarget;
        _cutoffCents = _cutoffTarget;
        _glideLeft = 0;
        _volumeEnvelope.Start(VolumeTimes(), Amount(GeneratorEnum.SustainVolumeEnvelope));
        _modulationEnvelope.Start(ModulationTimes(), ModulationSustain());
        _modulationLfo.Start(DelayFrames(GeneratorEnum.DelayModulationLFO), LfoSpeed(GeneratorEnum.FrequencyModulationLFO));
        _vibratoLfo.Start(DelayFrames(GeneratorEnum.DelayVibratoLFO), LfoSpeed(GeneratorEnum.FrequencyVibratoLFO));

        _cursor = new SampleCursor
        {
            Position = (ulong)region.Start << 32,
            Start = region.Start,
            End = region.End,
            LoopStart = region.LoopStart,
            LoopEnd = region.LoopEnd,
            IsLooping = region.LoopMode != LoopMode.None,
            IsSeamless = region.IsSeamless,
            Seam = region.SeamPoints,
        };
        _isFiltered = NeedsFilter(0);
        if (_isFiltered)
            EnterFilter();
        SetGains(_gains.Times(_volumeEnvelope.Amplitude(0) * Tremolo(0)));
    }

    /// <summary>Handles the key's release: releases the voice unless a pedal holds it.</summary>
    public void KeyUp()
    {
        IsKeyUp = true;
        ReleaseUnlessHeld();
    }

    /// <summary>Releases the voice if neither its key nor a pedal holds it.</summary>
    public void ReleaseUnlessHeld()
    {
        if (IsKeyUp && !IsHeldBySostenuto && !_channel.IsSustained)
            Release();
    }

    /// <summary>Handles the sostenuto pedal: going down, it takes hold of the voice if its key is down.</summary>
    public void Sostenuto(bool isDown)
    {
        if (isDown)
        {
            IsHeldBySostenuto |= !IsKeyUp;
            return;
        }
        IsHeldBySostenuto = false;
        ReleaseUnlessHeld();
    }

    /// <summary>Whether it could go on as another key: the key is down, and the same sample answers the new one.</summary>
    public bool CanMoveTo(int key) =>
        IsActive && !IsKeyUp && !IsReleased && !IsFading && _region.Answers(key, Velocity);

    /// <summary>Whether it plays this region.</summary>
    public bool Plays(Region region) => ReferenceEquals(_region, region);

    /// <summary>Whether it plays one of these regions.</summary>
    public bool PlaysOneOf(Region[] regions) => Array.IndexOf(regions, _region) >= 0;

    /// <summary>Changes the key on the next frame; envelopes, oscillators and sample go on.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void MoveTo(int key, long noteId)
    {
        Key = key;
        NoteId = noteId;
        IsNoteCut = false;
        ControllersChanged();
    }

    /// <summary>Enters the release stages on the next frame, whatever the pedals.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void Release()
    {
        IsKeyUp = true;
        if (IsReleased || _releaseLeft > 0)
            return;
        // A key released on the frame on which it was pressed should still be heard.
        if (!_hasSounded && _pieceLeft == _pieceLength)
        {
            _releaseLeft = _volumeEnvelope.FramesToFull(context.LeastNoteFrames);
            return;
        }
        Interrupt();
        if (!IsActive)
            return;
        IsReleased = true;
        _volumeEnvelope.Release();
        _modulationEnvelope.Release();
        if (_region.LoopMode == LoopMode.UntilRelease)
        {
            _cursor.IsLooping = false;
            _cursor.HasLooped = false;
            _cursor.IsInsideKnown = false;
        }
        EndIfSilent();
    }

    /// <summary>Fades out from the next frame; a fade that already ends sooner continues.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void FadeOut(int frames)
    {
        if (IsFading && _fadeLeft <= frames)
            return;
        Interrupt();
        if (!IsActive)
            return;
        // A longer fade in progress continues from its current level.
        var level = Fade(0);
        _fadeLength = Math.Max(1, (int)(frames / Math.Max(level, 0.01f)));
        _fadeLeft = frames;
    }

    /// <summary>Stops at once.</summary>
    public void Cut() => End();

    /// <summary>Applies a controller change from the next frame on.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void ControllersChanged()
    {
        Interrupt();
        if (!IsActive)
            return;
        Modulate();
        _volumeEnvelope.Configure(VolumeTimes(), Amount(GeneratorEnum.SustainVolumeEnvelope));
        _modulationEnvelope.Configure(ModulationTimes(), ModulationSustain());
        _modulationLfo.SetSpeed(LfoSpeed(GeneratorEnum.FrequencyModulationLFO));
        _vibratoLfo.SetSpeed(LfoSpeed(GeneratorEnum.FrequencyVibratoLFO));
        _glideLeft = context.GlideFrames;
    }

    /// <summary>Whether any of its modulators uses a source.</summary>
    [MethodImpl(HotCode.Compiled)]
    public bool ListensTo(bool isMidiController, int index)
    {
        foreach (ref readonly var m in _region.Modulators.AsSpan())
        {
            if (Is(m.Source) || Is(m.AmountSource))
                return true;
        }
        return false;

        bool Is(ModulatorSource source) => source.IsMidiController == isMidiController && source.Index == index;
    }

    /// <summary>Adds the next frames to the mix, all within one quantum, by the scalar kernel.</summary>
    /// <param name="framesToBoundary">Frames from the first of these to the end of the quantum.</param>
    /// <param name="left">Mix, left; its length is the number of frames.</param>
    /// <param name="right">Mix, right.</param>
    /// <param name="reverb">Send to the reverb, or empty.</param>
    /// <param name="chorus">Send to the chorus, or empty.</param>
    public void Render(int framesToBoundary, Span<float> left, Span<float> right, Span<float> reverb, Span<float> chorus)
    {
        var done = 0;
        while (done < left.Length && IsActive)
        {
            var count = Math.Min(FramesPlanned(framesToBoundary - done), left.Length - done);
            if (!_isPieceSilent)
            {
                ScalarVoiceKernel.Render(
                    ref _cursor, lanes, lane, _region.Pool, context.Weights, left.Slice(done, count), right.Slice(done, count),
                    Part(reverb, done, count), Part(chorus, done, count));
            }
            Pass(count);
            done += count;
        }

        static Span<float> Part(Span<float> send, int start, int count) => send.IsEmpty ? send : send.Slice(start, count);
    }

    /// <summary>The number of frames left in the current piece; plans the next piece if it is over.</summary>
    [MethodImpl(HotCode.Compiled)]
    public int FramesPlanned(int framesToBoundary)
    {
        if (_pieceLeft == 0)
        {
            if (_isSteady)
            {
                _pieceLength = framesToBoundary;
                _pieceLeft = framesToBoundary;
            }
            else
            {
                PlanPiece(framesToBoundary);
            }
        }
        return _pieceLeft;
    }

    /// <summary>
    /// Prefetches the points of the piece. Each of many voices reads so little that the processor detects no pattern and would wait for
    /// every read.
    /// </summary>
    [MethodImpl(HotCode.Compiled)]
    private void Prefetch()
    {
        const int Line = 64;
        const int Most = 6;
        unchecked
        {
            if (!Sse.IsSupported || _region.Pool.IsDeep)
                return;
            var at = (byte*)(_region.Pool.High + (nint)(_cursor.Position >> 32));
            var length = (int)Math.Min(((ulong)Quantum.Frames * _cursor.Increment) >> 31, Most * Line);
            for (var offset = 0; offset <= length; offset += Line)
                Sse.Prefetch0(at + offset);
        }
    }

    /// <summary>Reads the sample for the next frames of the piece.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void Read(float* samples, int frames)
    {
        if (_isPieceSilent)
            new Span<float>(samples, frames).Clear();
        else
            SampleReader.Read(ref _cursor, _region.Pool, context.Weights, samples, frames);
    }

    /// <summary>Marks frames of the piece as rendered.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void Pass(int frames)
    {
        _pieceLeft -= frames;
        if (_pieceLeft > 0)
            return;
        if (!_isSteady)
        {
            if (!_isPieceSilent)
                SetGains(_pieceTarget);
            if (_isFiltered && !_isFilterAtRest)
                SettleFilter();
        }
        Commit(_pieceLength);
        Prefetch();
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private ref float Lane(LaneField field) => ref unchecked(*(_column + ((int)field * VoiceLanes.Count)));

    /// <summary>A generator's amount with its modulators, in range.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private float Amount(GeneratorEnum generator) => _amounts[(int)generator];

    [MethodImpl(HotCode.Compiled)]
    private void Modulate()
    {
        var key = _region.KeyOverride >= 0 ? _region.KeyOverride : Key;
        var velocity = _region.VelocityOverride >= 0 ? _region.VelocityOverride : Velocity;
        _region.Generators.CopyTo(_amounts, 0);
        foreach (ref readonly var m in _region.Modulators.AsSpan())
        {
            var value = m.Amount * m.Source.Map(_channel.Value(m.Source, key, velocity, Key))
                * m.AmountSource.Map(_channel.Value(m.AmountSource, key, velocity, Key));
            _amounts[(int)m.Destination] += m.IsAbsolute ? MathF.Abs(value) : value;
        }
        if (_channel.HasOffsets)
            AddOffsets();
        _amounts[(int)GeneratorEnum.FineTune] += _touch.Cents;
        _amounts[(int)GeneratorEnum.InitialFilterCutoffFrequency] -= _touch.Darkness;
        // No bank may go below the shortest release; longer releases stay as they are.
        ref var release = ref _amounts[(int)GeneratorEnum.ReleaseVolumeEnvelope];
        release = Math.Max(release, LeastReleaseTimecents);

        // Coarse and fine tune are not clamped: they carry the pitch wheel's cents, which reach further.
        var (coarse, fine) = (_amounts[(int)GeneratorEnum.CoarseTune], _amounts[(int)GeneratorEnum.FineTune]);
        GeneratorRange.ClampAll(_amounts);
        _pitchCents = ((key - _region.RootKey) * Amount(GeneratorEnum.ScaleTuning)) + _region.PitchCorrection + _channel.TuningCents
            + (coarse * 100) + fine;

        var resonance = Amount(GeneratorEnum.InitialFilterQ);
        var level = context.Gain * _programGain * Units.Amplitude(Amount(GeneratorEnum.InitialAttenuation)) * LowPassCoefficients.Gain(resonance);
        var angle = (Amount(GeneratorEnum.Pan) + 500) / 1000 * (MathF.PI / 2);
        _gainsTarget = new StaticGains(
            level * MathF.Cos(angle),
            level * MathF.Sin(angle),
            level * Amount(GeneratorEnum.ReverbEffectsSend) / 1000,
            level * Amount(GeneratorEnum.ChorusEffectsSend) / 1000);
        _cutoffTarget = Amount(GeneratorEnum.InitialFilterCutoffFrequency);
        _inverseQuality = (float)(1 / LowPassCoefficients.Quality(resonance));
        _lastCutoff = float.NaN;
        _modulationLfoToPitch = Amount(GeneratorEnum.ModulationLFOToPitch);
        _vibratoLfoToPitch = Amount(GeneratorEnum.VibratoLFOToPitch);
        _envelopeToPitch = Amount(GeneratorEnum.ModulationEnvelopeToPitch);
        _modulationLfoToCutoff = Amount(GeneratorEnum.ModulationLFOToFilterCutoffFrequency);
        _envelopeToCutoff = Amount(GeneratorEnum.ModulationEnvelopeToFilterCutoffFrequency);
        _modulationLfoToVolume = Amount(GeneratorEnum.ModulationLFOToVolume);
        _hasMovingPitch = _modulationLfoToPitch != 0 || _vibratoLfoToPitch != 0 || _envelopeToPitch != 0;
        _hasMovingCutoff = _modulationLfoToCutoff != 0 || _envelopeToCutoff != 0;
        _hasEnvelope = _envelopeToPitch != 0 || _envelopeToCutoff != 0;
        _hasModulation = _hasMovingPitch || _hasMovingCutoff || _modulationLfoToVolume != 0;
        // A controller may have made it audible.
        if (_hasEnvelope)
            CatchUpEnvelope();
    }

    [MethodImpl(HotCode.Compiled)]
    private void AddOffsets()
    {
        for (var i = 0; i < _amounts.Length; i++)
            _amounts[i] += _channel.Offsets[i];
    }

    [MethodImpl(HotCode.Compiled)]
    private void PlanPiece(int framesToBoundary)
    {
        var length = Math.Min(framesToBoundary, _volumeEnvelope.FramesLeft);
        if (_glideLeft > 0)
            length = Math.Min(length, _glideLeft);
        if (IsFading)
            length = Math.Min(length, _fadeLeft);
        if (_releaseLeft > 0)
            length = Math.Min(length, _releaseLeft);
        _pieceLength = length;
        _pieceLeft = length;
        // The sample starts with the attack, not at key-on.
        _isPieceSilent = _volumeEnvelope.Stage == EnvelopeStage.Delay;
        if (_isPieceSilent)
            return;

        var part = length == Quantum.Frames ? 1f / Quantum.Frames : 1f / length;
        PlanPitch();
        PlanFilter(length, part);
        PlanGains(length, part);
        _isSteady = _areGainsAtRest && !_hasModulation && (!_isFiltered || _isFilterAtRest) && _glideLeft == 0 && _releaseLeft == 0;
    }

    [MethodImpl(HotCode.Compiled)]
    private void PlanPitch()
    {
        var cents = _pitchCents;
        if (_hasMovingPitch)
        {
            cents += Moved(_modulationLfoToPitch, _vibratoLfoToPitch, _envelopeToPitch, 0);
        }
        if (cents == _lastPitch)
            return;
        _lastPitch = cents;
        var increment = Math.Min(Units.Ratio(cents) * _incrementOfRatio, GreatestIncrement * (1L << 32));
        _cursor.Increment = (ulong)(long)Math.Round(increment);
    }

    [MethodImpl(HotCode.Compiled)]
    private void PlanFilter(int length, float part)
    {
        if (!_isFiltered)
        {
            if (!NeedsFilter(length))
                return;
            // The filter stays on from here: switching it off would make a step, and most voices have it on from the start.
            _isFiltered = true;
            EnterFilter();
        }
        if (_isFilterAtRest && Cutoff(length) == _lastCutoff)
            return;
        ref readonly var target = ref Coefficients(length);
        var (a1, a2, a3) = (target.A1 - Lane(LaneField.A1), target.A2 - Lane(LaneField.A2), target.A3 - Lane(LaneField.A3));
        _isFilterAtRest = a1 == 0 && a2 == 0 && a3 == 0;
        Lane(LaneField.A1Step) = a1 * part;
        Lane(LaneField.A2Step) = a2 * part;
        Lane(LaneField.A3Step) = a3 * part;
    }

    private void EnterFilter()
    {
        _isFilterAtRest = false;
        Lane(LaneField.FilterMask) = BitConverter.Int32BitsToSingle(-1);
        _ = Coefficients(0);
        SettleFilter();
    }

    /// <summary>Sets the filter to the target of its ramp, so that rounding errors cannot keep it moving.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private void SettleFilter()
    {
        Lane(LaneField.A1) = _lastCoefficients.A1;
        Lane(LaneField.A2) = _lastCoefficients.A2;
        Lane(LaneField.A3) = _lastCoefficients.A3;
    }

    [MethodImpl(HotCode.Compiled)]
    private void PlanGains(int length, float part)
    {
        var isHeld = _volumeEnvelope.Stage == EnvelopeStage.Sustain && _glideLeft == 0 && !IsFading
            && _modulationLfoToVolume == 0;
        if (isHeld && _areGainsAtRest)
            return;
        _pieceTarget = GainsAfter(length).Times(_volumeEnvelope.Amplitude(length) * Tremolo(length) * Fade(length));
        Lane(LaneField.LeftStep) = (_pieceTarget.Left - Lane(LaneField.Left)) * part;
        Lane(LaneField.RightStep) = (_pieceTarget.Right - Lane(LaneField.Right)) * part;
        Lane(LaneField.ReverbStep) = (_pieceTarget.Reverb - Lane(LaneField.Reverb)) * part;
        Lane(LaneField.ChorusStep) = (_pieceTarget.Chorus - Lane(LaneField.Chorus)) * part;
        _areGainsAtRest = isHeld && Lane(LaneField.LeftStep) == 0 && Lane(LaneField.RightStep) == 0
            && Lane(LaneField.ReverbStep) == 0 && Lane(LaneField.ChorusStep) == 0;
    }

    /// <summary>Ends the piece here, so that the next one starts on the coming frame with new values.</summary>
    private void Interrupt()
    {
        if (_pieceLeft > 0)
            Commit(_pieceLength - _pieceLeft);
        _isSteady = false;
        CatchUp();
    }

    [MethodImpl(HotCode.Compiled)]
    private void CatchUp()
    {
        CatchUpEnvelope();
        if (_framesBehind == 0)
            return;
        _modulationLfo.Advance(_framesBehind);
        _vibratoLfo.Advance(_framesBehind);
        _framesBehind = 0;
    }

    private void CatchUpEnvelope()
    {
        if (_envelopeBehind == 0)
            return;
        _modulationEnvelope.Advance(_envelopeBehind);
        _envelopeBehind = 0;
    }

    [MethodImpl(HotCode.Compiled)]
    private void Commit(int frames)
    {
        _pieceLength = 0;
        _pieceLeft = 0;
        if (frames == 0)
            return;
        _hasSounded = true;
        _age = Math.Min(_age + frames, int.MaxValue / 2);
        _framesBehind += frames;
        if (_hasEnvelope)
            _modulationEnvelope.Advance(frames);
        else
            _envelopeBehind += frames;
        if (_framesBehind > MostFramesBehind)
            CatchUp();
        if (_isFiltered)
            FlushDenormals();
        if (_isSteady)
        {
            if (_cursor.HasEnded)
                SampleEnded();
            return;
        }
        _volumeEnvelope.Advance(frames);
        if (_glideLeft > 0)
        {
            _gains = GainsAfter(frames);
            _cutoffCents = CutoffAfter(frames);
            _glideLeft -= frames;
        }
        if (IsFading)
        {
            _fadeLeft -= frames;
            if (_fadeLeft <= 0)
                End();
        }
        else if (_cursor.HasEnded)
            SampleEnded();
        EndIfSilent();
        if (_releaseLeft > 0)
        {
            _releaseLeft -= frames;
            if (_releaseLeft == 0 && IsActive)
                Release();
        }
    }

    private void SampleEnded()
    {
        _isSteady = false;
        // The filter may still ring.
        if (_isFiltered)
        {
            _fadeLength = context.FadeFrames;
            _fadeLeft = context.FadeFrames;
        }
        else
        {
            End();
        }
    }

    private void End()
    {
        lanes.Active &= ~(1u << lane);
        lanes.Clear(lane);
        _region = Idle;
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private void EndIfSilent()
    {
        if (_volumeEnvelope.Stage == EnvelopeStage.Finished || IsInaudible())
            End();
    }

    /// <summary>Whether it is fading to silence and already inaudible, including the attenuation of bank and channel.</summary>
    private bool IsInaudible()
    {
        // -110 dB of full scale, most of it from the envelope itself, because a controller may still raise the rest.
        const float LeastGain = 3.16e-6f;
        const float LeastEnvelope = 1e-3f;
        return _volumeEnvelope.IsFallingSilent && Math.Max(Lane(LaneField.Left), Lane(LaneField.Right)) < LeastGain
            && _volumeEnvelope.Amplitude(0) < LeastEnvelope;
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private StaticGains GainsAfter(int frames) =>
        frames >= _glideLeft ? _gainsTarget : _gains.Towards(_gainsTarget, (float)frames / _glideLeft);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private float CutoffAfter(int frames) =>
        frames >= _glideLeft ? _cutoffTarget : _cutoffCents + ((_cutoffTarget - _cutoffCents) * frames / _glideLeft);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private float Fade(int ahead) => _fadeLength == 0 ? 1 : (float)(_fadeLeft - ahead) / _fadeLength;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private float Tremolo(int ahead)
    {
        return _modulationLfoToVolume == 0 ? 1 : Units.Amplitude(-_modulationLfoToVolume * _modulationLfo.Value(_framesBehind + ahead));
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private float Cutoff(int ahead)
    {
        var cents = CutoffAfter(ahead);
        if (!_hasMovingCutoff)
            return cents;
        return cents + Moved(_modulationLfoToCutoff, 0, _envelopeToCutoff, ahead);
    }

    /// <summary>The sum of oscillators and modulation envelope some frames ahead; skips those with no effect.</summary>
    [MethodImpl(HotCode.Compiled)]
    private float Moved(float byModulationLfo, float byVibratoLfo, float byEnvelope, int ahead)
    {
        unchecked
        {
            var sum = 0f;
            if (byModulationLfo != 0)
                sum = _modulationLfo.Value(_framesBehind + ahead) * byModulationLfo;
            if (byVibratoLfo != 0)
                sum += _vibratoLfo.Value(_framesBehind + ahead) * byVibratoLfo;
            if (byEnvelope != 0)
                sum += _modulationEnvelope.Value(ahead) * byEnvelope;
            return sum;
        }
    }

    private bool NeedsFilter(int ahead) =>
        Cutoff(ahead) < GeneratorRange.Of(GeneratorEnum.InitialFilterCutoffFrequency).Maximum || Amount(GeneratorEnum.InitialFilterQ) > 0;

    /// <summary>The coefficients some frames ahead, by reference, because copying numbers that were just written would stall.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private ref readonly LowPassCoefficients Coefficients(int ahead)
    {
        var cutoff = Cutoff(ahead);
        if (cutoff != _lastCutoff)
        {
            _lastCutoff = cutoff;
            _lastCoefficients = context.Cutoffs.At(cutoff, _inverseQuality);
        }
        return ref _lastCoefficients;
    }

    [MethodImpl(HotCode.Compiled)]
    private EnvelopeTimes VolumeTimes() =>
        EnvelopeTimes.From(_amounts, GeneratorEnum.DelayVolumeEnvelope, ModulationKey(), context.SampleRate);

    [MethodImpl(HotCode.Compiled)]
    private EnvelopeTimes ModulationTimes() =>
        EnvelopeTimes.From(_amounts, GeneratorEnum.DelayModulationEnvelope, ModulationKey(), context.SampleRate);

    private int ModulationKey() => _region.KeyOverride >= 0 ? _region.KeyOverride : Key;

    // The generator counts down from full level, in tenths of a percent.
    private float ModulationSustain() => 1 - (Amount(GeneratorEnum.SustainModulationEnvelope) / 1000);

    private double LfoSpeed(GeneratorEnum frequency) => Units.Hertz(Amount(frequency)) / context.SampleRate;

    private int DelayFrames(GeneratorEnum delay)
    {
        var timecents = Amount(delay);
        return timecents <= GeneratorRange.Of(delay).Minimum ? 0 : (int)Math.Round(Units.Seconds(timecents) * context.SampleRate);
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private void FlushDenormals()
    {
        const float Inaudible = 1e-15f;
        if (MathF.Abs(Lane(LaneField.Filter1)) < Inaudible && MathF.Abs(Lane(LaneField.Filter2)) < Inaudible)
        {
            Lane(LaneField.Filter1) = 0;
            Lane(LaneField.Filter2) = 0;
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private void SetGains(in StaticGains gains)
    {
        Lane(LaneField.Left) = gains.Left;
        Lane(LaneField.Right) = gains.Right;
        Lane(LaneField.Reverb) = gains.Reverb;
        Lane(LaneField.Chorus) = gains.Chorus;
    }
}
