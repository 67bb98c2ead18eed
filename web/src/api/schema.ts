// Made from server/openapi.json by `npm run types`; don't edit.

export interface paths {
    "/api/health": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** That the server runs */
        get: operations["health"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/schema": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** JSON Schema of the study file */
        get: operations["schema"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** The studies that are open */
        get: operations["studies"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** One study: files, mistakes, conditions, undo */
        get: operations["study"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/accept": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /** Accept a finding, with reason and initials */
        post: operations["accept"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/check": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /** Check a text without writing it */
        post: operations["check"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/doubt": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** Which datum matters, as far as it was asked */
        get: operations["doubt"];
        put?: never;
        /** Ask which datum matters; an event says when it is known */
        post: operations["begin-doubt"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/duty": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** Duties and ratings */
        get: operations["duty"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/edit": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /** Change the study in place */
        post: operations["edit"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/entry": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** One entry of the study, as written */
        get: operations["entry"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/events": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** What happens to the study, as it happens */
        get: operations["events"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/fault": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** One fault as everybody sees it */
        get: operations["fault"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/faults": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** The table of faults at every bus */
        get: operations["faults"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/faults.csv": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** The same as CSV */
        get: operations["faults-csv"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/faults.xlsx": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** The same as a workbook */
        get: operations["faults-xlsx"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/file": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** The text of one file */
        get: operations["file"];
        /** Write the text of one file */
        put: operations["put-file"];
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/findings": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** All findings, the worst first */
        get: operations["findings"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/flow": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** Load flow */
        get: operations["flow"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/history": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** Versions of a file that can be had back */
        get: operations["history"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/home": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** Tallies, worst findings, what is assumed */
        get: operations["home"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/map": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** The one-line diagram, with what stands where */
        get: operations["map"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/past": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** The text of one of them */
        get: operations["past"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/places": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** Places of faults, ends of the network */
        get: operations["places"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/profile": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** Currents, voltage and load along a path */
        get: operations["profile"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/redo": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /** Make it again */
        post: operations["redo"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/strip.svg": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /** A path drawn as a feeder strip */
        get: operations["strip"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/undo": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /** Take the last edit back */
        post: operations["undo"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/studies/{study}/withdraw": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /** Withdraw an acceptance */
        post: operations["withdraw"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
}
export type webhooks = Record<string, never>;
export interface components {
    schemas: {
        Acceptance: {
            /** @description Initials or name. */
            by: string;
            /** @description Identity of the finding. */
            finding: string;
            reason: string;
        };
        AnswerAssumption: {
            key: string;
            object: string;
            place: string;
            source?: string;
            value: string;
        };
        AnswerBand: {
            /** Format: double */
            least: number;
            least_in: string;
            /** Format: double */
            most: number;
            most_in: string;
        };
        AnswerCircuit: {
            conductors: string;
            value: components["schemas"]["PhasorJSON"];
        };
        AnswerComplex: {
            /** Format: double */
            im: number;
            /** Format: double */
            re: number;
        };
        AnswerCompound: {
            condition: string;
            inverters?: components["schemas"]["AnswerInverter"][] | null;
            kind: string;
            parts: components["schemas"]["AnswerPart"][] | null;
            unproven?: string;
            /** Format: double */
            unsettled_of_rated?: number;
            vantages: components["schemas"]["AnswerVantage"][] | null;
        };
        AnswerCovered: {
            condition: string;
            place: string;
            /** Format: double */
            residual_ampere: number;
            /** Format: double */
            resistance_ohm?: number;
            seen: boolean;
            unlimited?: boolean;
            unproven?: string;
        };
        AnswerCurrent: {
            direction?: string;
            input: string;
            note?: string;
            primary_ampere?: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
            residual_ampere?: components["schemas"]["PhasorJSON"];
            secondary_ampere?: components["schemas"]["AnswerCircuit"][] | null;
            sequence_ampere?: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
        };
        AnswerDeviceDuty: {
            compared: string;
            condition: string;
            /** Format: double */
            duty_ampere: number;
            fault: string;
            infeeds_in_parallel?: string[] | null;
            kind: string;
            missing?: string[] | null;
            name: string;
            place: string;
            /** Format: double */
            rating_ampere?: number;
            rule: string;
            taps: string;
            verdict: string;
        };
        AnswerDutyFault: {
            /** Format: double */
            after_ampere?: number;
            /** Format: double */
            after_second?: number;
            condition: string;
            /** Format: double */
            direct_ampere?: number;
            /** Format: double */
            from_converters_ampere?: number;
            /** Format: double */
            initial_ampere?: number;
            /** Format: double */
            interrupting_ampere?: number;
            /** Format: double */
            interrupting_x_over_r?: number;
            /** Format: double */
            kappa?: number;
            kind: string;
            loop_impedance_ohm?: components["schemas"]["AnswerComplex"];
            missing?: string[] | null;
            /** Format: double */
            peak_ampere?: number;
            place: string;
            /** Format: double */
            remote_part?: number;
            sources?: components["schemas"]["AnswerDutySource"][] | null;
            /** Format: double */
            steady_ampere?: number;
            taps: string;
            /** Format: double */
            thermal_ampere?: number;
            /** Format: double */
            thermal_second?: number;
            unproven?: string;
            /** Format: double */
            voltage_factor?: number;
            working?: components["schemas"]["WorkingStep"][] | null;
            /** Format: double */
            x_over_r?: number;
        };
        AnswerDutySource: {
            /** Format: double */
            current_ampere: number;
            kind: string;
            name: string;
            /** Format: double */
            over_rated?: number;
            /** Format: double */
            share_ampere: number;
        };
        AnswerEarthReturn: {
            bus?: string;
            current_ampere: components["schemas"]["PhasorJSON"];
            kind: string;
            plant: string;
        };
        AnswerFault: {
            condition: string;
            /** Format: double */
            current_ampere?: number;
            earth_current_ampere?: components["schemas"]["PhasorJSON"];
            earth_returns?: components["schemas"]["AnswerEarthReturn"][] | null;
            inverters?: components["schemas"]["AnswerInverter"][] | null;
            kind: string;
            loop_impedance_ohm?: components["schemas"]["AnswerComplex"];
            no_source?: boolean;
            phase_current_ampere?: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
            place: string;
            /** Format: double */
            resistance_ohm: number;
            sequence_current_ampere?: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
            unproven?: string;
            /** Format: double */
            unsettled_of_rated?: number;
            vantages?: components["schemas"]["AnswerVantage"][] | null;
            voltage_to_earth_volt?: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
            working?: components["schemas"]["WorkingStep"][] | null;
            /** Format: double */
            x_over_r?: number;
            z0_ohm?: components["schemas"]["AnswerComplex"];
            z1_ohm?: components["schemas"]["AnswerComplex"];
            z2_ohm?: components["schemas"]["AnswerComplex"];
        };
        AnswerFlowBranch: {
            branch: string;
            ends?: components["schemas"]["AnswerFlowEnd"][] | null;
            kind: string;
            loading?: components["schemas"]["AnswerLoading"];
            loss_voltampere?: components["schemas"]["AnswerComplex"];
            out?: boolean;
        };
        AnswerFlowBus: {
            bus: string;
            /** Format: double */
            negative_over_positive_sequence?: number;
            no_source?: boolean;
            /** Format: double */
            nominal_volt: number;
            unearthed?: boolean;
            voltage_between_phases_volt?: components["schemas"]["PhasorJSON"][] | null;
            voltage_over_nominal?: {
                [key: string]: number;
            };
            voltage_to_earth_volt?: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
            voltage_to_neutral_volt?: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
        };
        AnswerFlowCondition: {
            branches?: components["schemas"]["AnswerFlowBranch"][] | null;
            buses?: components["schemas"]["AnswerFlowBus"][] | null;
            devices?: components["schemas"]["AnswerFlowDevice"][] | null;
            hunting?: string[] | null;
            /** Format: double */
            largest_power_left_over_voltampere: number;
            name: string;
            /** Format: int64 */
            newton_rounds: number;
            power_voltampere?: components["schemas"]["AnswerPowerBalance"];
            /** Format: int64 */
            rounds: number;
            solved: boolean;
            tap_controls?: components["schemas"]["AnswerTapControl"][] | null;
            trouble?: components["schemas"]["AnswerFlowTrouble"];
            vantages?: components["schemas"]["AnswerVantage"][] | null;
        };
        AnswerFlowDevice: {
            device: string;
            kind: string;
            loading?: components["schemas"]["AnswerLoading"];
            note?: string;
            phase_current_ampere?: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
        };
        AnswerFlowEnd: {
            bus: string;
            earth_current_ampere: components["schemas"]["PhasorJSON"];
            phase_current_ampere: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
            power_voltampere: components["schemas"]["AnswerComplex"];
        };
        AnswerFlowTrouble: {
            bus: string;
            cause: string;
            /** Format: double */
            largest_multiple_of_loads: number;
            /** Format: double */
            missing_voltampere: number;
            phase: string;
        };
        AnswerInverter: {
            name: string;
            phase_current_ampere: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
            /** Format: double */
            rated_current_ampere: number;
            sequence_current_ampere: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
        };
        AnswerLoading: {
            /** Format: double */
            largest: number;
            /** Format: double */
            limit: number;
            /** Format: double */
            loading: number;
            of: string;
            phase: string;
        };
        AnswerPart: {
            earth_current_ampere: components["schemas"]["PhasorJSON"];
            kind: string;
            phase_current_ampere: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
            /** Format: double */
            resistance_ohm: number;
            voltage_beyond_volt?: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
            voltage_to_earth_volt: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
        };
        AnswerPowerBalance: {
            infeeds: components["schemas"]["AnswerComplex"];
            loads: components["schemas"]["AnswerComplex"];
            losses: components["schemas"]["AnswerComplex"];
            machines_and_inverters: components["schemas"]["AnswerComplex"];
            shunts: components["schemas"]["AnswerComplex"];
        };
        AnswerProfileFault: {
            current_ampere?: components["schemas"]["AnswerBand"];
            kind: string;
            unproven?: string;
        };
        AnswerProfilePoint: {
            devices?: string[] | null;
            /** Format: double */
            distance_metre: number;
            faults: components["schemas"]["AnswerProfileFault"][] | null;
            impedance_ohm: components["schemas"]["AnswerComplex"];
            load_ampere?: components["schemas"]["AnswerBand"];
            /** Format: double */
            nominal_volt: number;
            over?: string;
            over_kind?: string;
            place: string;
            voltage_over_nominal?: components["schemas"]["AnswerBand"];
            /** Format: double */
            x_over_r?: number;
        };
        AnswerTapControl: {
            at_limit: boolean;
            /** Format: double */
            band_volt_secondary: number;
            fixed: boolean;
            /** Format: double */
            measured_volt_secondary: number;
            of: string;
            /** Format: double */
            position: number;
            /** Format: double */
            set_volt_secondary: number;
            /** Format: int64 */
            steps_moved: number;
            units: number[] | null;
        };
        AnswerVantage: {
            currents: components["schemas"]["AnswerCurrent"][] | null;
            name: string;
            voltages: components["schemas"]["AnswerVoltage"][] | null;
        };
        AnswerVoltage: {
            input: string;
            note?: string;
            primary_volt?: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
            secondary_volt?: components["schemas"]["AnswerCircuit"][] | null;
            sequence_volt?: {
                [key: string]: components["schemas"]["PhasorJSON"];
            };
        };
        ChangedEvent: {
            broken: boolean;
            /** @enum {string} */
            by: "page" | "outside";
            /** Format: int64 */
            errors: number;
            files: string[] | null;
            version: string;
        };
        CheckInputBody: {
            file: string;
            text: string;
        };
        Checked: {
            diagnostics: components["schemas"]["Diagnostic"][] | null;
        };
        Condition: {
            name: string;
            note?: string;
        };
        Diagnostic: {
            /** Format: int64 */
            column: number;
            excerpt: string;
            file: string;
            fix: string;
            /** Format: int64 */
            line: number;
            object: string;
            problem: string;
            related: components["schemas"]["Related"][] | null;
            /** @enum {string} */
            severity: "error" | "warning";
            why: string;
        };
        Doubt: {
            data: components["schemas"]["DoubtDatum"][] | null;
            error?: string;
            /**
             * Format: int64
             * @description Data not tried for want of room.
             */
            left_out: number;
            /**
             * Format: int64
             * @description How often the study was judged.
             */
            runs: number;
            /**
             * @description none: not begun for the files as they are.
             * @enum {string}
             */
            state: "none" | "running" | "done" | "failed";
            version: string;
        };
        DoubtChange: {
            finding: string;
            /** @description Verdict as it is; empty: there is no such finding. */
            from: string;
            to: string;
        };
        DoubtDatum: {
            /** @description Findings whose verdict would be another, at some value tried. */
            changes: components["schemas"]["DoubtChange"][] | null;
            consequence: string;
            datum: string;
            /** @description range stated, assumed, missing or default. */
            kind: string;
            place: string;
            /** @description Basis of the values tried. */
            range?: string;
            untried?: string;
            value?: string;
        };
        DoubtEvent: {
            state: string;
            version: string;
        };
        DutyAnswer: {
            assumptions: components["schemas"]["AnswerAssumption"][] | null;
            conditions: string[] | null;
            defaults: string[] | null;
            devices: components["schemas"]["AnswerDeviceDuty"][] | null;
            faults: components["schemas"]["AnswerDutyFault"][] | null;
            findings: components["schemas"]["FindingFinding"][] | null;
            practice: string;
            smallest?: boolean;
            /** @description The files have mistakes now: these are the last good results. */
            stale: boolean;
            study: string;
            /** @description Version of all files together that the results are of. */
            version: string;
        };
        Edit: {
            /** @description Version of all files together that the page shows. */
            base: string;
            changes: components["schemas"]["EditChange"][] | null;
            /** @description Write although the result has mistakes that the files have not. */
            force?: boolean;
            /** @description What was done, in words, for undo. */
            what: string;
        };
        EditChange: {
            /** @description Of insert: the entry that it comes behind. */
            after?: string;
            /**
             * @description set writes one value, and adds a key that isn't there; insert adds an entry; rename changes its name everywhere.
             * @enum {string}
             */
            op: "set" | "remove" | "insert" | "rename";
            /** @description Of the value or entry: lines / N1-N2 / length. */
            path: string;
            /** @description Of set: the value as it is written in the file. Of insert: the entry's YAML. Of rename: the new name. */
            value?: string;
        };
        Entry: {
            fields: components["schemas"]["EntryField"][] | null;
            file: string;
            /** Format: int64 */
            line: number;
            name: string;
            path: string;
            table: string;
            version: string;
        };
        EntryField: {
            /** Format: int64 */
            column: number;
            key: string;
            /** Format: int64 */
            line: number;
            /** @description It is one value, not a list or group. */
            simple: boolean;
            /** @description Its value as written; of lists and groups the YAML of the value. */
            text: string;
        };
        FaultAnswer: {
            assumptions: components["schemas"]["AnswerAssumption"][] | null;
            compound?: components["schemas"]["AnswerCompound"][] | null;
            conditions: string[] | null;
            covered?: components["schemas"]["AnswerCovered"][] | null;
            defaults: string[] | null;
            faults: components["schemas"]["AnswerFault"][] | null;
            /** @description The files have mistakes now: these are the last good results. */
            stale: boolean;
            study: string;
            /** @description Version of all files together that the results are of. */
            version: string;
        };
        FaultRow: {
            condition: string;
            /** Format: double */
            current_ampere?: number;
            kind: string;
            no_source?: boolean;
            place: string;
            unproven?: string;
            /** Format: double */
            x_over_r?: number;
        };
        FaultTable: {
            rows: components["schemas"]["FaultRow"][] | null;
            /** @description The files have mistakes now: these are the last good results. */
            stale: boolean;
            /** @description Version of all files together that the results are of. */
            version: string;
        };
        FileEntry: {
            /** Format: int64 */
            bytes: number;
            name: string;
            version: string;
        };
        FileText: {
            name: string;
            text: string;
            version: string;
        };
        Finding: {
            finding: components["schemas"]["FindingFinding"];
            id: string;
            is_accepted: boolean;
            is_reopened: boolean;
        };
        FindingAcceptance: {
            by: string;
            date: string;
            reason: string;
            reopened?: string;
            source?: string;
            value?: components["schemas"]["FindingQuantity"];
            verdict: string;
        };
        FindingFinding: {
            accepted?: components["schemas"]["FindingAcceptance"];
            basis?: string;
            chapter: string;
            condition?: string;
            cure?: string;
            explanation?: string;
            fault?: string;
            limit?: components["schemas"]["FindingQuantity"];
            missing?: string[] | null;
            place?: string;
            rule: string;
            source?: string;
            subjects: string[] | null;
            target?: components["schemas"]["FindingQuantity"];
            title: string;
            value?: components["schemas"]["FindingQuantity"];
            verdict: string;
            working?: components["schemas"]["WorkingStep"][] | null;
            worse?: string;
        };
        FindingQuantity: {
            unit: string;
            /** Format: double */
            value: number;
        };
        Findings: {
            findings: components["schemas"]["Finding"][] | null;
            /** @description The files have mistakes now: these are the last good results. */
            stale: boolean;
            /** @description Version of all files together that the results are of. */
            version: string;
        };
        FlowAnswer: {
            assumptions: components["schemas"]["AnswerAssumption"][] | null;
            conditions: components["schemas"]["AnswerFlowCondition"][] | null;
            defaults: string[] | null;
            /** @description The files have mistakes now: these are the last good results. */
            stale: boolean;
            study: string;
            /** @description Version of all files together that the results are of. */
            version: string;
        };
        Health: {
            ok: boolean;
            program: string;
        };
        HelloEvent: {
            version: string;
        };
        History: {
            name: string;
            versions: components["schemas"]["StorePast"][] | null;
        };
        Home: {
            assumptions: components["schemas"]["AnswerAssumption"][] | null;
            chapters: {
                [key: string]: {
                    [key: string]: number;
                };
            };
            /** Format: int64 */
            conditions: number;
            defaults: string[] | null;
            /** Format: int64 */
            findings: number;
            stale_acceptances: components["schemas"]["ReviewStale"][] | null;
            tally: {
                [key: string]: number;
            };
            unproven: components["schemas"]["Finding"][] | null;
            /** @description Version of all files together that the results are of. */
            version: string;
            worst: components["schemas"]["Finding"][] | null;
        };
        Map: {
            condition: string;
            /** Format: double */
            height: number;
            items: components["schemas"]["MapItem"][] | null;
            /** @description The files have mistakes now: these are the last good results. */
            stale: boolean;
            svg: string;
            /** @description Version of all files together that the results are of. */
            version: string;
            /** Format: double */
            width: number;
        };
        MapItem: {
            /** Format: double */
            h: number;
            /** @description Identity of its group in the drawing. */
            id: string;
            /** @description No source reaches it, or one side of it. */
            is_dead?: boolean;
            /** @description Of a device that switches: it is open in this condition. */
            is_open?: boolean;
            kind: string;
            name: string;
            /** @description Where it stands in the study, for the form. */
            path?: string;
            /** Format: double */
            w: number;
            /** Format: double */
            x: number;
            /** Format: double */
            y: number;
        };
        PhasorJSON: {
            /** Format: double */
            angle_degree: number;
            /** Format: double */
            im: number;
            /** Format: double */
            magnitude: number;
            /** Format: double */
            re: number;
        };
        PlaceBus: {
            /** @description Kinds of fault that its phases allow. */
            kinds: string[] | null;
            name: string;
            /** Format: double */
            nominal_volt: number;
            phases: string[] | null;
        };
        PlaceLine: {
            from: string;
            /** Format: double */
            length_metre: number;
            name: string;
            to: string;
        };
        Places: {
            buses: components["schemas"]["PlaceBus"][] | null;
            /** @description Ends of the network, for strips; the longest path first is not promised. */
            ends: string[] | null;
            infeed_buses: string[] | null;
            lines: components["schemas"]["PlaceLine"][] | null;
            /** @description The files have mistakes now: these are the last good results. */
            stale: boolean;
            /** @description Version of all files together that the results are of. */
            version: string;
        };
        ProfileAnswer: {
            assumptions: components["schemas"]["AnswerAssumption"][] | null;
            conditions: string[] | null;
            defaults: string[] | null;
            from: string;
            points: components["schemas"]["AnswerProfilePoint"][] | null;
            /** @description The files have mistakes now: these are the last good results. */
            stale: boolean;
            study: string;
            to: string;
            /** @description Version of all files together that the results are of. */
            version: string;
            /** Format: double */
            voltage_high_of_nominal: number;
            /** Format: double */
            voltage_low_of_nominal: number;
            without_state_of_service?: string[] | null;
        };
        PutInputBody: {
            /** @description Version of the file that the text was made from. */
            base: string;
            text: string;
            what?: string;
        };
        Related: {
            /** Format: int64 */
            column: number;
            excerpt: string;
            file: string;
            /** Format: int64 */
            line: number;
            text: string;
        };
        ResultsEvent: {
            /** Format: double */
            duration_millisecond: number;
            error?: string;
            tally?: {
                [key: string]: number;
            };
            version: string;
        };
        ReviewStale: {
            by: string;
            date: string;
            finding: string;
            reason: string;
            source: string;
            why: string;
        };
        StorePast: {
            /** Format: date-time */
            at: string;
            /** Format: int64 */
            bytes: number;
            /** Format: int64 */
            number: number;
            version: string;
            what: string;
        };
        StudyEntry: {
            file: string;
            id: string;
            /** @enum {string} */
            state: "good" | "broken";
            title: string;
        };
        StudyState: {
            conditions: components["schemas"]["Condition"][] | null;
            diagnostics: components["schemas"]["Diagnostic"][] | null;
            files: components["schemas"]["FileEntry"][] | null;
            /** Format: double */
            frequency_hertz: number;
            id: string;
            length_unit: string;
            /** Format: double */
            length_unit_metre: number;
            /** @description There are loads, so that there is a load flow. */
            loaded: boolean;
            phases: string[] | null;
            redo: string;
            /**
             * @description stale: the files have mistakes, and results are the last good ones; broken: there are none.
             * @enum {string}
             */
            state: "good" | "stale" | "broken";
            title: string;
            /** @description What undo would take back; empty: nothing. */
            undo: string;
            version: string;
        };
        V2ErrorDetail: {
            /** @description Where the error occurred, e.g. 'body.items[3].tags' or 'path.thing-id' */
            location?: string;
            /** @description Error message text */
            message?: string;
            /** @description The value at the given location */
            value?: unknown;
        };
        V2ErrorModel: {
            /**
             * @description A human-readable explanation specific to this occurrence of the problem.
             * @example Property foo is required but is missing.
             */
            detail?: string;
            /** @description Optional list of individual error details */
            errors?: components["schemas"]["V2ErrorDetail"][] | null;
            /**
             * Format: uri
             * @description A URI reference that identifies the specific occurrence of the problem.
             * @example https://example.com/error-log/abc123
             */
            instance?: string;
            /**
             * Format: int64
             * @description HTTP status code
             * @example 400
             */
            status?: number;
            /**
             * @description A short, human-readable summary of the problem type. This value should not change between occurrences of the error.
             * @example Bad Request
             */
            title?: string;
            /**
             * Format: uri
             * @description A URI reference to human-readable documentation for the error.
             * @default about:blank
             * @example https://example.com/errors/example
             */
            type: string;
        };
        WithdrawInputBody: {
            finding: string;
        };
        WorkingStep: {
            basis?: string;
            formula: string;
            meaning: string;
            result: string;
            symbol: string;
            unit?: string;
            values?: string;
        };
    };
    responses: never;
    parameters: never;
    requestBodies: never;
    headers: never;
    pathItems: never;
}
export type $defs = Record<string, never>;
export interface operations {
    health: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Health"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    schema: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": unknown;
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    studies: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["StudyEntry"][] | null;
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    study: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["StudyState"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    accept: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["Acceptance"];
            };
        };
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["StudyState"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    check: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["CheckInputBody"];
            };
        };
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Checked"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    doubt: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Doubt"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    "begin-doubt": {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Doubt"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    duty: {
        parameters: {
            query?: {
                /** @description Condition or parts of its name; empty: all. */
                condition?: string;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["DutyAnswer"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    edit: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["Edit"];
            };
        };
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["StudyState"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    entry: {
        parameters: {
            query: {
                /** @description Table and name, as lines / N1-N2. */
                path: string;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Entry"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    events: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "text/event-stream": ({
                        data: components["schemas"]["ChangedEvent"];
                        /**
                         * @description The event name.
                         * @constant
                         */
                        event: "changed";
                        /** @description The event ID. */
                        id?: number;
                        /** @description The retry time in milliseconds. */
                        retry?: number;
                    } | {
                        data: components["schemas"]["DoubtEvent"];
                        /**
                         * @description The event name.
                         * @constant
                         */
                        event: "doubt";
                        /** @description The event ID. */
                        id?: number;
                        /** @description The retry time in milliseconds. */
                        retry?: number;
                    } | {
                        data: components["schemas"]["HelloEvent"];
                        /**
                         * @description The event name.
                         * @constant
                         */
                        event: "hello";
                        /** @description The event ID. */
                        id?: number;
                        /** @description The retry time in milliseconds. */
                        retry?: number;
                    } | {
                        data: components["schemas"]["ResultsEvent"];
                        /**
                         * @description The event name.
                         * @constant
                         */
                        event: "results";
                        /** @description The event ID. */
                        id?: number;
                        /** @description The retry time in milliseconds. */
                        retry?: number;
                    })[];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    fault: {
        parameters: {
            query: {
                /** @description Condition or parts of its name; empty: all. */
                condition?: string;
                /** @description Place: a bus, LINE/40% or LINE/0.7mi. */
                at: string;
                /** @description Kind of fault, as lg:A. */
                kind: string;
                /** @description Fault resistance with its unit, as 40 ohm; empty: bolted. */
                resistance?: string;
                working?: boolean;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["FaultAnswer"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    faults: {
        parameters: {
            query?: {
                /** @description Condition or parts of its name; empty: all. */
                condition?: string;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["FaultTable"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    "faults-csv": {
        parameters: {
            query?: {
                /** @description Condition or parts of its name; empty: all. */
                condition?: string;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    "Content-Disposition"?: string;
                    "Content-Type"?: string;
                    [name: string]: unknown;
                };
                content: {
                    "application/json": string;
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    "faults-xlsx": {
        parameters: {
            query?: {
                /** @description Condition or parts of its name; empty: all. */
                condition?: string;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    "Content-Disposition"?: string;
                    "Content-Type"?: string;
                    [name: string]: unknown;
                };
                content: {
                    "application/json": string;
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    file: {
        parameters: {
            query: {
                name: string;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["FileText"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    "put-file": {
        parameters: {
            query: {
                name: string;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["PutInputBody"];
            };
        };
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["StudyState"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    findings: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Findings"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    flow: {
        parameters: {
            query?: {
                /** @description Condition or parts of its name; empty: all. */
                condition?: string;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["FlowAnswer"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    history: {
        parameters: {
            query: {
                name: string;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["History"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    home: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Home"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    map: {
        parameters: {
            query?: {
                /** @description Condition or parts of its name; empty: all. */
                condition?: string;
                ratings?: boolean;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Map"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    past: {
        parameters: {
            query: {
                name: string;
                number?: number;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["FileText"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    places: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Places"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    profile: {
        parameters: {
            query: {
                /** @description Condition or parts of its name; empty: all. */
                condition?: string;
                /** @description Bus at its start; empty: the nearest infeed. */
                from?: string;
                /** @description Bus at its end. */
                to: string;
                /** @description Further points inside every line. */
                between?: number;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["ProfileAnswer"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    redo: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["StudyState"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    strip: {
        parameters: {
            query: {
                /** @description Condition or parts of its name; empty: all. */
                condition?: string;
                /** @description Bus at its start; empty: the nearest infeed. */
                from?: string;
                /** @description Bus at its end. */
                to: string;
                /** @description Further points inside every line. */
                between?: number;
                impedance?: boolean;
            };
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    "Content-Disposition"?: string;
                    "Content-Type"?: string;
                    [name: string]: unknown;
                };
                content: {
                    "application/json": string;
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    undo: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["StudyState"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
    withdraw: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Identity of the study, from the list. */
                study: string;
            };
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["WithdrawInputBody"];
            };
        };
        responses: {
            /** @description OK */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["StudyState"];
                };
            };
            /** @description Error */
            default: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/problem+json": components["schemas"]["V2ErrorModel"];
                };
            };
        };
    };
}
